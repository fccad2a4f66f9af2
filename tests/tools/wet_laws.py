"""The laws of the wet side: what no light may do while a print is not fixed, and what each foot-down may do of two.

Like `laws`, the judge knows what was told from pages, what was lit and shown, and the rows; of the process it knows the
figures, and adds them up anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from controller.store.entries import Closed, Intent, LightCame
from controller.store.tray_rows import TrayEntered
from controller.trays.process import Process
from hardware.sounds import FAMILY, Cue
from tools.feet import MS
from tools.laws import REST_WAIT, History

NEVER = 1 << 62
HOLD_AGAIN = 10_000 * MS
RETRY = 6_000 * MS
"""What could not be filed is, by then."""


@dataclass
class Wet:
    """A closed sheet, as the judge reckons it."""

    sheet: str
    number: int
    process: Process
    opened: int
    closed: int
    rows: list[TrayEntered]
    fix: int
    """When it came into the fix, by its row; `NEVER` where none says so."""
    until: int
    """White light may come from then on."""
    room: int
    """The room light may."""
    ends: int
    """A page said that no paper lies in the trays, or another daemon began, which follows none."""


def spans_ms(process: Process) -> list[tuple[str, int]]:
    """Return a process's trays with their ms, read off its figures one by one."""
    fix = "fix 1" if process.fix_2_seconds else "fix"
    figures = [
        ("on its way", 10.0),
        ("developer", process.developer_seconds),
        ("drain", process.drain_seconds),
        ("stop", process.stop_seconds),
        (fix, process.fix_seconds),
        ("fix 2", process.fix_2_seconds),
        ("rinse", process.rinse_seconds),
        ("wash", process.wash_seconds),
        ("aid", process.aid_seconds),
        ("wash", process.wash_2_seconds),
    ]
    return [(name, round(seconds * 1000)) for name, seconds in figures if seconds]


def wet_sheets(h: History) -> list[Wet]:
    """Return the sheets that were closed, in order."""
    assert h.journal is not None
    rows: dict[str, list[TrayEntered]] = {}
    for row in h.journal.of(TrayEntered):
        rows.setdefault(row.sheet, []).append(row)
    said = sorted(row.at_ns for row in h.journal.of(TrayEntered) if row.by == "page" and not row.tray)
    found = []
    opened = {sheet.id: min(p.on_ns for step in sheet.steps for p in step.parts) for sheet in h.sheets}
    plans = {sheet.id: sheet.plan for sheet in h.sheets}
    for closed in (row for row in h.journal.rows if isinstance(row.entry, Closed)):
        assert isinstance(closed.entry, Closed)
        sheet = closed.entry.sheet
        if sheet not in opened:
            continue
        own = rows.get(sheet, [])
        if not (own and own[0].tray) and h.slow:
            continue  # nor can it be told by when a busy runner filed it
        if not (own and own[0].tray) and any(begun <= closed.at_ns <= over + RETRY for begun, over in h.misfortunes):
            continue  # nobody wrote down when it was closed
        at = own[0].at_ns if own and own[0].tray else closed.at_ns
        bench = plans[sheet].bench
        process = h.habits.processes["RC" if bench is not None and bench.support == "RC" else "FB"]
        fix = next((row.at_ns for row in own if row.tray in ("fix", "fix 1")), NEVER)
        page = next((moment for moment in said if moment >= at), NEVER)
        restart = next((moment for moment in h.restarts if moment >= at), NEVER)
        least = process.least_fix_seconds
        until = min(page, _until(h, process, at, fix, restart, least))
        room = min(page, _until(h, process, at, fix, restart, max(60.0, least)))
        number = own[0].number if own else 0
        found.append(Wet(sheet, number, process, opened[sheet], at, own, fix, until, room, min(page, restart)))
    return found


def _until(h: History, process: Process, closed: int, fix: int, restart: int, least_s: float) -> int:
    hurry, by_time = h.habits.hurry, h.habits.room_after_close_ms * MS // h.habits.hurry
    if not h.habits.trays:
        return closed + by_time
    names = [name for name, _ in spans_ms(process)]
    first = next(at for at, name in enumerate(names) if name in ("fix", "fix 1"))
    planned = closed + sum(ms * MS // hurry for _, ms in spans_ms(process)[:first])
    least = round(least_s * 1000) * MS // hurry
    if fix >= restart:  # nobody followed it into the fix
        return max(closed + by_time, planned + least)
    return max(planned, fix) + least


def _lights(h: History) -> list[tuple[Intent, LightCame]]:
    assert h.journal is not None
    intents = {entry.light: entry for entry in h.journal.of(Intent)}
    return [(intents[came.light], came) for came in h.journal.of(LightCame) if came.most_ns > 0]


def _spans(edges: list[tuple[int, bool]], until: int) -> list[tuple[int, int]]:
    ons = [at for at, on in edges if on]
    return [(on, next((at for at, lit in edges if not lit and at >= on), until)) for on in ons]


def no_white_light_before_the_fix(h: History) -> Iterator[str]:
    """From a sheet's first light until it has had its least time in the fix there is no white light of any kind."""
    focus = [(came.on_ns, came.on_ns + came.most_ns) for i, came in _lights(h) if i.light_kind == "focus"]
    whites = {"focus light": focus, "room light": _spans(h.room, h.until), "the day face": _spans(h.day, h.until)}
    for wet in wet_sheets(h):
        slack = 3 * 2_600 * MS if h.slow else 1  # a busy runner knows of the light that opened a sheet when it can
        for what, spans in whites.items():
            for on, off in spans:
                if on < wet.until and off > wet.opened + (slack if what == "the day face" else 0):
                    yield f"{what} from {on} to {off}, sheet {wet.number} closed at {wet.closed}, safe at {wet.until}"


def room_light_waits_for_a_minute_in_the_fix(h: History) -> Iterator[str]:
    """The room light waits until a closed sheet has been in the fix for a minute, or for its least time there."""
    for wet in wet_sheets(h):
        for on, off in _spans(h.room, h.until):
            if wet.closed < on < wet.room:
                yield f"room light from {on} to {off}, sheet {wet.number} safe at {wet.room}"


def light_waits_for_the_fix(h: History) -> Iterator[str]:
    """Until the print before is in the fix no other sheet's light comes on, and no check's."""
    if not h.habits.trays:
        return
    for wet in wet_sheets(h):
        for intent, came in _lights(h):
            if intent.light_kind != "focus" and wet.closed < came.on_ns < min(wet.fix, wet.ends):
                yield f"{intent.light_kind} light at {came.on_ns}, sheet {wet.number} in the fix at {wet.fix}"


def no_tray_is_heard_beside_light(h: History) -> Iterator[str]:
    """In a light, and in the second before it, nothing of the trays is sounded."""
    if h.slow:
        return
    heard = [at for at, cue in h.cues if FAMILY[Cue(cue)] == "trays"]
    for on, off in h.lights:
        for at in heard:
            if on - 1_000 * MS < at < off:
                yield f"a tray was heard at {at}, in the light from {on} to {off}"


def trays_go_by_their_own_seconds(h: History) -> Iterator[str]:
    """A print that goes on by time has lain in its tray for just its seconds, however busy the runner was."""
    if not h.habits.trays:
        return
    for wet in wet_sheets(h):
        spans = dict(spans_ms(wet.process))  # a second wash has other seconds than the first
        washes = [ms for name, ms in spans_ms(wet.process) if name == "wash"]
        seen = 0
        for one, two in pairwise(wet.rows):
            wanted = washes[seen] if one.tray == "wash" else spans.get(one.tray, 0)
            seen += one.tray == "wash"
            free = wet.process.factor is not None and one.tray in ("on its way", "developer")
            if two.by == "time" and not free and two.at_ns - one.at_ns != wanted * MS // h.habits.hurry:
                yield f"sheet {wet.number} lay {two.at_ns - one.at_ns} in {one.tray}"


def one_reader_for_each_press(h: History) -> Iterator[str]:
    """A press that a print took has begun no light."""
    lead = (h.habits.timing.lead_in_ms if h.habits.sounder else max(4000, h.habits.timing.lead_in_ms)) * MS
    for wet in wet_sheets(h):
        for row in wet.rows:
            begun = [on for on, _ in h.lights if 0 <= on - row.at_ns - lead <= REST_WAIT]
            if row.by == "foot" and row.tray == "developer" and begun:
                yield f"the press at {row.at_ns} brought sheet {wet.number} into the developer, and light"


def a_hold_is_one_tray_and_none_out_of_the_fix(h: History) -> Iterator[str]:
    """A hold brings a print on at most once in ten seconds, not within ten of a close, and never out of the fix."""
    assert h.journal is not None
    closes = [wet.closed for wet in wet_sheets(h)]
    held = []
    for wet in wet_sheets(h):
        for one, two in pairwise(wet.rows):
            if two.by != "hold":
                continue
            held.append(two.at_ns)
            if one.tray in ("fix", "fix 1", "fix 2", "wash", "rinse", "aid"):
                yield f"a hold at {two.at_ns} took sheet {wet.number} out of {one.tray}"
            begun, after = two.at_ns - h.habits.timing.hold_ms * MS, h.habits.timing.after_close_ms * MS
            if any(at <= begun < at + after for at in closes):
                yield f"a hold at {two.at_ns} brought sheet {wet.number} on, right after a close"
    said = [row.at_ns for row in h.journal.of(TrayEntered) if row.by == "page"]
    for one, two in pairwise(sorted(held)):
        free = any(one <= at <= two for at in (*said, *h.restarts))
        if two - one < HOLD_AGAIN and not free:
            yield f"two holds brought prints on, at {one} and {two}"


def the_page_s_word_is_a_page_s(h: History) -> Iterator[str]:
    """That no paper lies in the trays is filed only where a page has said so."""
    assert h.journal is not None
    if h.slow:
        return
    for row in h.journal.of(TrayEntered):
        if row.by == "page" and not row.tray and row.at_ns not in h.no_paper:
            yield f"no paper in the trays at {row.at_ns}, and nobody said so"


WET_LAWS: tuple[Callable[[History], Iterator[str]], ...] = (
    no_white_light_before_the_fix,
    room_light_waits_for_a_minute_in_the_fix,
    light_waits_for_the_fix,
    no_tray_is_heard_beside_light,
    trays_go_by_their_own_seconds,
    one_reader_for_each_press,
    a_hold_is_one_tray_and_none_out_of_the_fix,
    the_page_s_word_is_a_page_s,
)


def wet_broken(h: History) -> list[str]:
    """Return every law of the wet side that the history breaks, each as a sentence with its moment."""
    return [f"seed {h.seed}: {found}" for law in WET_LAWS for found in law(h)]
