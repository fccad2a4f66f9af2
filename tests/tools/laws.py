"""The laws that a darkroom's light is held to, judged from what anybody could have seen.

`broken` names the laws that an evening's history breaks. The judge knows the raw edges of contact and lid, what was
told and stopped from pages, the edges of the lamp line, and the journal's rows. It does not know the grammar: which
light may come is worked out anew from the contact's own samples.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

from controller.exposure import lag
from controller.foot.state import Given, Habits
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Plan
from controller.store.entries import Closed, Intent, LightCame, StoodAtEnlarger
from controller.store.folding import fold
from controller.store.records import SheetRecord
from hardware.practice.meter import Edge as LampEdge
from tools.check_laws import CHECK_LAWS, check_gap_ms, is_reading
from tools.feet import MS, Down, Edge, at_rest, downs, from_rest
from tools.foot_bench import BenchJournal
from tools.hands_laws import HANDS_LAWS

REST_WAIT = 100 * MS


# ---- what happened


@dataclass
class History:
    """All that a judge may know of one session. Times are ns."""

    seed: int
    habits: Habits
    slow: bool
    """The runner was busy for random spans."""
    source: str = ""
    """What is loaded when it begins, and when another daemon does that finds no sheet open."""
    raw: list[Edge] = field(default_factory=list)
    lamp: list[Edge] = field(default_factory=list)
    lid: list[tuple[int, bool]] = field(default_factory=list)
    """(moment, open)."""
    lamps: list[LampEdge] = field(default_factory=list)
    """The edges of each lamp line by its name."""
    room: list[Edge] = field(default_factory=list)
    led: list[Edge] = field(default_factory=list)
    room_asks: list[int] = field(default_factory=list)
    """When a page asked for the room light."""
    stops: list[int] = field(default_factory=list)
    starts: list[int] = field(default_factory=list)
    """When a page asked for a step's light."""
    asks: list[int] = field(default_factory=list)
    """When a page asked for white light."""
    checks: list[tuple[int, Plan]] = field(default_factory=list)
    """The checks of the lamp that a page loaded, and when."""
    put_down: list[int] = field(default_factory=list)
    """When a page closed what was under way, or chose anything."""
    stood: list[tuple[int, AtEnlarger]] | None = None
    """What stood at the enlarger from when on, as it was said and taken, or found again by another daemon.

    None where nobody wrote it down: then the rows alone are asked."""
    said: list[tuple[int, AtEnlarger]] = field(default_factory=list)
    """What a page said stands at the enlarger, and when, where set-ups are made by foot too."""
    reopened: list[tuple[int, tuple[Given, ...], tuple[Given, ...]]] = field(default_factory=list)
    """What the steps of an open sheet had before another daemon began, and what that one found of them."""
    restarts: list[int] = field(default_factory=list)
    """When another daemon began."""
    misfortunes: list[tuple[int, int]] = field(default_factory=list)
    """When the card was full, or anything else went wrong: rows of then may be late."""
    no_paper: list[int] = field(default_factory=list)
    """When a page said that no paper lies in the trays, at the right moment or not."""
    day: list[Edge] = field(default_factory=list)
    """When the day face was shown, and when it was not any more."""
    keepers: list[int] = field(default_factory=list)
    """When each keeper began."""
    lost: set[int] = field(default_factory=set)
    """The beginnings of lights in which the keeper was lost."""
    cues: list[tuple[int, str]] = field(default_factory=list)
    journal: BenchJournal | None = None
    until: int = 0
    late: int = 0
    """By how much a real keeper may be late in hearing, lighting and darkening; 0 in virtual time."""

    @cached_property
    def downs(self) -> list[Down]:
        found: list[Down] = []
        ends = [*self.keepers[1:], self.until]
        hold = self.habits.timing.hold_ms * MS
        for begun, end in zip(self.keepers, ends, strict=True):
            edges = [edge for edge in self.raw if begun < edge[0] <= end]
            found += downs(from_rest(edges, end), end, hold)
        return found

    @cached_property
    def lights(self) -> list[tuple[int, int]]:
        """The lamp line's lights that lasted at all."""
        ends = [at for at, _ in self.lamp]
        return [(on, off) for on, off in zip(ends[::2], ends[1::2], strict=True) if off > on]

    @cached_property
    def places(self) -> dict[Down, int]:
        """Which down of the session each of them is."""
        return {down: at for at, down in enumerate(self.downs)}

    @cached_property
    def filed(self) -> dict[int, tuple[Intent, LightCame]]:
        """Intent and fact of each light that is on file, by its beginning."""
        assert self.journal is not None
        intents = {entry.light: entry for entry in self.journal.of(Intent)}
        return {came.on_ns: (intents[came.light], came) for came in self.journal.of(LightCame) if came.most_ns > 0}

    @cached_property
    def sheets(self) -> tuple[SheetRecord, ...]:
        assert self.journal is not None
        return fold(self.journal.rows)


# ---- the judge


def broken(h: History) -> list[str]:
    """Return every law that the history breaks, each as a sentence with its moment."""
    told = list(record_is_the_lamp_s(h)) or [found for law in LAWS for found in law(h)]
    return [f"seed {h.seed}: {found}" for found in told]


def record_is_the_lamp_s(h: History) -> Iterator[str]:
    """The lights on file are the lamp line's own, edge for edge; a lost keeper's are bracketed."""
    filed = h.filed
    if sorted(filed) != [on for on, _ in h.lights]:
        yield f"lamp lit at {[on for on, _ in h.lights]}, on file {sorted(filed)}"
        return
    for on, off in h.lights:
        came = filed[on][1]
        if on in h.lost:
            if not came.least_ns <= off - on <= came.most_ns:
                yield f"light at {on}: {off - on} is not within {came.least_ns} and {came.most_ns}"
        elif not came.least_ns == came.most_ns == off - on:
            yield f"light at {on}: lit {off - on}, filed {came.least_ns} to {came.most_ns}"


def folded_sheets_hold_every_light(h: History) -> Iterator[str]:
    """Folding the journal gives every step light once, in its step, and the sum that the page shows."""
    parts = [part for sheet in h.sheets for step in sheet.steps for part in step.parts]
    steps = [on for on, (intent, _) in h.filed.items() if intent.light_kind == "step"]
    if sorted(part.on_ns for part in parts) != sorted(steps):
        yield f"folded {sorted(part.on_ns for part in parts)}, step lights {sorted(steps)}"
    numbers = [sheet.number for sheet in h.sheets]
    whole = len(h.lights) * 2 == len(h.lamp)  # a light that was stopped in its first nanosecond uses a number too
    first = numbers[0] if h.late and numbers else 1  # in real time an evening follows another
    if numbers != (list(range(first, first + len(numbers))) if whole else sorted(set(numbers))):
        yield f"sheets are numbered {numbers}"


def a_restart_finds_what_each_step_had(h: History) -> Iterator[str]:
    """Another daemon finds in the record that each step had the same light, and is settled or is not, as before."""
    for at, before, found in h.reopened:
        was, told = ([(one.least_ns, one.most_ns, one.settled) for one in given] for given in (before, found))
        if was != told:
            yield f"at {at} the steps had {was}, and after a restart {told}"


def a_sheet_says_what_stood(h: History) -> Iterator[str]:
    """A sheet's record says what stood at the enlarger when its first light came on, and every change is a row."""
    assert h.journal is not None
    if h.late:
        return  # in real time nobody changes anything there
    rows = [(row.number, row.entry.bench) for row in h.journal.rows if isinstance(row.entry, StoodAtEnlarger)]
    for sheet in h.sheets:
        on = min(part.on_ns for step in sheet.steps for part in step.parts)
        before = rows if h.stood is None else h.stood
        first = sheet.opened.row if h.stood is None else on
        stood = next((bench for at, bench in reversed(before) if at <= first), AtEnlarger())
        if (sheet.plan.bench or AtEnlarger()) != stood:
            yield f"sheet {sheet.number} says {sheet.plan.bench} stood at the enlarger, and it was {stood}"
    if h.stood is None:
        return
    said = [AtEnlarger(), *(bench for _, bench in h.stood)]
    told = [bench for before, bench in pairwise(said) if bench != before]
    if [bench for _, bench in rows] != told:
        yield f"{len(rows)} rows of what stood at the enlarger, and {len(told)} changes of it"


def intent_is_on_disk_before_light(h: History) -> Iterator[str]:
    """Every light's intent was filed before the light came on."""
    assert h.journal is not None
    at = {row.entry.light: row.at_ns for row in h.journal.rows if isinstance(row.entry, Intent)}
    for on, (intent, _) in h.filed.items():
        if at[intent.light] >= on:
            yield f"light at {on} was intended at {at[intent.light]}"


def nothing_is_left_unfinished(h: History) -> Iterator[str]:
    """Of every intent it is on file what became of it."""
    assert h.journal is not None
    done = {row.entry.light for row in h.journal.rows if row.entry.kind in ("light", "no light")}
    if missing := {entry.light for entry in h.journal.of(Intent)} - done:
        yield f"nothing is known of {missing}"


def contact_is_at_rest(h: History) -> Iterator[str]:
    """No light comes on while the contact is closed or was within 60 ms, nor within 1.2 s of a first contact."""
    after = h.habits.timing.after_contact_ms * MS
    for on, _ in h.lights:
        if not at_rest([edge for edge in h.raw if edge[0] <= on - h.late], on):
            yield f"light at {on} with the contact not at rest"
        for down in h.downs:
            if on - after < down.first <= on - h.late:
                yield f"light at {on}, {(on - down.first) / MS} ms after a first contact"


def a_down_ends_light(h: History) -> Iterator[str]:
    """Every down with the light on ends it the moment it is known: 25 ms when clean, 60 ms at most when it chatters."""
    for on, off in h.lights:
        for down in h.downs:
            if on < down.known < off - h.late:
                yield f"light {on} to {off} went on after a down known at {down.known}"
            if down.known == off and off - down.first > 60 * MS:
                yield f"light {on} to {off} outlasted a first contact at {down.first}"
    for on, (_, came) in h.filed.items():
        off = on + came.most_ns
        if came.why == "foot" and not any(0 <= off - down.known <= h.late for down in h.downs):
            yield f"light at {on} ended by a foot at {off}, when there was none"


def stop_ends_light(h: History) -> Iterator[str]:
    """A stop ends any light at once."""
    for on, off in h.lights:
        for stop in h.stops:
            if on <= stop < off - h.late:
                yield f"light {on} to {off} went on after a stop at {stop}"


def light_is_begun_by_a_foot_or_a_start(h: History) -> Iterator[str]:
    """No light but at the end of an announcement begun by a press, a start, or a light of the same rhythm."""
    for on, (intent, _) in h.filed.items():
        begun = _white_begun if intent.light_kind == "focus" else _step_begun
        if not begun(h, on, intent):
            yield f"{intent.light_kind} light at {on} was begun by nothing"


def _step_begun(h: History, on: int, intent: Intent) -> bool:
    lead = (h.habits.timing.lead_in_ms if h.habits.sounder else max(4000, h.habits.timing.lead_in_ms)) * MS

    def fits(from_ns: int, span: int, known: int | None = None) -> bool:
        return 0 <= on - from_ns - span <= REST_WAIT + h.late and _quiet(h, from_ns, on - h.late, known)

    presses = (down for down in h.downs if down.hold is None and fits(down.first, lead, down.known))
    if any(not _is_double(h, down) and not _is_too_soon(h, down.first) for down in presses):
        return True
    if any(fits(at, lead) and h.habits.start_from_phone for at in h.starts):
        return True
    gap = next((s.gap_ms for sheet in h.sheets for s in sheet.plan.steps if _is_step(sheet, s.number, intent)), None)
    if intent.light_kind == "check":
        gap = check_gap_ms(h, intent, on)
    before = [(o, f) for o, f in h.lights if f < on]
    if gap is None or not before:
        return False
    last_on, last_off = before[-1]
    last, came = h.filed[last_on]
    same = (
        (last.light_kind, last.sheet) == (intent.light_kind, intent.sheet)
        and last.step == intent.step - 1
        and came.why == "complete"
    )
    return same and fits(last_off, gap * MS)


def _is_step(sheet: SheetRecord, number: int, intent: Intent) -> bool:
    return sheet.id == intent.sheet and number == intent.step


def _quiet(h: History, from_ns: int, on: int, known: int | None = None) -> bool:
    """Tell whether nothing was pressed or stopped, and no keeper lost, from a light's beginning to the light.

    A stop before the foot-down is known (`known`) finds nothing that it could stop.
    """
    pressed = any(
        from_ns < down.first <= on or (from_ns < down.known <= on and down.first != from_ns) for down in h.downs
    )
    return not pressed and not any((known or from_ns) < at <= on for at in (*h.stops, *h.keepers))


def _is_double(h: History, down: Down) -> bool:
    """Tell whether this down is the second of a double: 0.35 s after the release of one shorter than a hold."""
    window, hold = h.habits.timing.double_ms * MS, h.habits.timing.hold_ms * MS
    at = h.places[down]
    if at == 0:
        return False
    last = h.downs[at - 1]
    known = last.opened is not None and not any(
        last.opened < begun <= down.first for begun in (*h.keepers, *h.restarts)
    )
    return known and last.opened - last.first < hold and down.first - last.opened < window  # type: ignore[operator]


def _is_too_soon(h: History, first: int) -> bool:
    """Tell whether a first contact lies in a light, or in the span after it in which presses start nothing."""
    timing, filed = h.habits.timing, h.filed
    for on, off in h.lights:
        complete = filed[on][1].why == "complete"
        wait = timing.wait_after_plan_ms if complete else timing.wait_after_stop_ms
        if on <= first < off + wait * MS:
            return True
    return False


def _white_begun(h: History, on: int, intent: Intent) -> bool:
    timing = h.habits.timing
    span, question = (timing.hold_ms + timing.warning_ms) * MS, (timing.question_ms + timing.down_window_ms) * MS
    due = (down for down in h.downs if 0 <= on - span - down.first <= h.late and down.hold is not None)
    yes = next(due, None)
    if yes is None or not _quiet(h, yes.first, on - h.late, yes.hold):
        return False
    if h.habits.lid_single_hold and yes.hold is not None and not _lid_open(h, yes.hold):
        return True
    before = [down for down in h.downs if down.first < yes.first]
    asked = [at for at in h.asks if at < yes.first <= at + question]
    if asked and not any(asked[-1] < down.first for down in before):
        return True
    if not before or before[-1].hold is None:
        return False
    last = before[-1]
    return last.hold < yes.first <= last.first + timing.hold_ms * MS + question  # type: ignore[operator]


def _lid_open(h: History, at: int) -> bool:
    states = [is_open for moment, is_open in h.lid if moment <= at]
    return bool(states) and states[-1]


def no_white_light_with_a_sheet_open(h: History) -> Iterator[str]:
    """From a sheet's first light until it is closed there is no white light; nor by a hold begun 10 s after that."""
    assert h.journal is not None
    closed = {row.entry.sheet: row.at_ns for row in h.journal.rows if isinstance(row.entry, Closed)}
    after = h.habits.timing.after_close_ms * MS
    span = (h.habits.timing.hold_ms + h.habits.timing.warning_ms) * MS
    for on, (intent, came) in h.filed.items():
        if intent.light_kind != "focus":
            continue
        for sheet in h.sheets:
            opened = min(part.on_ns for step in sheet.steps for part in step.parts)
            end = closed.get(sheet.id, h.until)
            if opened < on + came.most_ns and on < end:
                yield f"white light at {on} while sheet {sheet.number} was open"
            if not h.slow and end <= on and on - span < end + after:
                yield f"white light at {on} by a hold {(on - span - end) / MS} ms after a close"


def no_light_with_the_lid_open(h: History) -> Iterator[str]:
    """No light comes on with the box open, and none but a step's is on then."""
    for on, (intent, came) in h.filed.items():
        if _lid_open(h, on):
            yield f"light at {on} with the box open"
        if intent.light_kind == "focus":
            for at, is_open in h.lid:
                if is_open and on < at < on + came.most_ns:
                    yield f"white light at {on} while the box was opened at {at}"


def no_step_gets_more_than_its_plan(h: History) -> Iterator[str]:
    """No step gets more full light than planned, by the lamp's own edges, and a given one not a millisecond less."""
    lit = dict(h.lights)
    lag_ms = h.habits.lag_ms
    assert h.journal is not None
    dosed = {intent.light for intent in h.journal.of(Intent) if intent.longest_ms}
    for sheet in h.sheets:
        for step in sheet.steps:
            parts = [part for part in step.parts if not part.struck]
            full = sum(max(0, lit.get(p.on_ns, p.on_ns) - p.on_ns - lag_ms * MS) for p in parts if p.assumed_ns is None)
            most = full + sum(max(0, (p.assumed_ns or 0) - lag_ms * MS) for p in parts if p.assumed_ns is not None)
            plan = lag.planned_full_ns(step.step.planned_ms, step.step.base_ms, lag_ms)
            over = sum(max(0, lit.get(p.on_ns, p.on_ns) - p.on_ns - p.ordered_ms * MS) for p in parts)
            if most > plan + over:
                yield f"sheet {sheet.number}, step {step.step.number}: {most} of {plan}"
            known = not any(p.on_ns in h.lost or p.light in dosed for p in step.parts)
            if known and any(part.why == "complete" for part in parts) and plan - most >= MS:
                yield f"sheet {sheet.number}, step {step.step.number}: complete with {most} of {plan}"


def light_is_announced(h: History) -> Iterator[str]:
    """Every light is announced by a sound at the press or hold that began it, or by the end of the band before it."""
    if h.slow or not h.habits.sounder:
        return
    at = [moment for moment, _ in h.cues]
    for on, (intent, _) in h.filed.items():
        span = 5200 * MS
        told = {cue for _, cue in h.cues[bisect_left(at, on - span) : bisect_right(at, on - 1)]}
        fogs = intent.light_kind == "focus" or is_reading(intent)
        wanted = {"warning"} if fogs else {"lead-in", "hands", "done"}
        if not told & wanted:
            yield f"{intent.light_kind} light at {on} without a sound"


def nothing_is_longer_than_ordered(h: History) -> Iterator[str]:
    """No light outlasts its order, or a third of a stop more where a dose is asked; nor white light its limit."""
    lit = dict(h.lights)
    for on, (intent, _) in h.filed.items():
        if intent.longest_ms and (intent.light_kind != "step" or intent.longest_ms > intent.lit_ms * 2 ** (1 / 3)):
            yield f"light at {on} may last {intent.longest_ms} for {intent.lit_ms} ms"
        if lit.get(on, on) - on > (intent.longest_ms or intent.lit_ms) * MS + h.late:
            yield f"light at {on} lasted {lit.get(on, on) - on} for {intent.lit_ms} ms"


def each_filter_has_its_lamp(h: History) -> Iterator[str]:
    """With two lamp lines a step lights its filter's lamp alone, focus light the soft one, 50 ms after any other."""
    if h.habits.filters != "lines":
        return
    lamp_at = {edge.at_ns: edge.lamp for edge in h.lamps if edge.lit}
    for on, (intent, _) in h.filed.items():
        wanted = intent.filter if intent.light_kind == "step" else "soft"  # a check's too: one lamp is enough to test
        if lamp_at[on] != wanted:
            yield f"{intent.light_kind} light at {on} through {wanted} was on the lamp {lamp_at[on]}"
    at_once = {at for at, times in Counter(edge.at_ns for edge in h.lamps).items() if times > 1}
    for before, after in pairwise(edge for edge in h.lamps if edge.at_ns not in at_once):  # lit for no time at all
        if before.lit and (after.lit or after.lamp != before.lamp):
            yield f"the lamps {before.lamp} and {after.lamp} are both lit at {after.at_ns}"
        if after.lit and not before.lit and after.lamp != before.lamp and after.at_ns - before.at_ns < 50 * MS:
            yield f"the lamp {after.lamp} is lit {after.at_ns - before.at_ns} after {before.lamp}"


def _open_sheets(h: History) -> list[tuple[int, int]]:
    assert h.journal is not None
    closed = {row.entry.sheet: row.at_ns for row in h.journal.rows if isinstance(row.entry, Closed)}
    return [
        (min(part.on_ns for step in sheet.steps for part in step.parts), closed.get(sheet.id, h.until))
        for sheet in h.sheets
    ]


def room_light_and_paper_are_kept_apart(h: History) -> Iterator[str]:
    """Room light is on only after a page asked: never beside a lamp, a sheet, an open box, nor soon after a close."""
    times = [at for at, _ in h.room]
    wait = 0 if h.habits.guard_without_trays else h.habits.room_after_close_ms * MS  # else `wet_laws` judges it
    for on, off in zip(times[::2], [*times[1::2], h.until], strict=False):
        if not any(at <= on for at in h.room_asks):
            yield f"room light at {on} was asked for by nobody"
        if any(on < dark and lit < off for lit, dark in h.lights):
            yield f"room light at {on} to {off} beside a lamp"
        for opened, closed in _open_sheets(h):
            if on < closed and opened < off:
                yield f"room light at {on} to {off} with a sheet open from {opened} to {closed}"
            if not h.slow and closed <= on < closed + wait:
                yield f"room light at {on}, {(on - closed) / MS} ms after a sheet was closed"
        if _lid_open(h, on) or any(is_open and on < at < off for at, is_open in h.lid):
            yield f"room light at {on} to {off} with the box open"
        for down in h.downs:
            if on < down.known < off:
                yield f"room light at {on} to {off} went on after a down known at {down.known}"
            lead = h.habits.timing.lead_in_ms * MS
            if on <= down.first <= off and any(
                down.first + lead <= lit <= down.first + lead + REST_WAIT for lit, _ in h.lights
            ):
                yield f"a press at {down.first} for the room light began a light"


def the_led_is_dark_beside_paper(h: History) -> Iterator[str]:
    """The status LED is dark while a lamp is lit or a sheet is open, but for what the runner was late to tell."""
    if h.slow:
        return
    for opened, closed in (*_open_sheets(h), *h.lights):
        shown = [lit for at, lit in h.led if at <= opened]
        if (shown and shown[-1]) or any(lit and opened < at < closed for at, lit in h.led):
            yield f"the LED was alight between {opened} and {closed}"


def no_light_comes_before_its_waits_are_over(h: History) -> Iterator[str]:
    """A step that is waited for has light only once every wait of it is over, and nothing is lit within one."""
    for sheet in h.sheets:
        for step in sheet.steps:
            hurry = max(1, h.habits.hurry)
            for wait in step.waits:
                begun = wait.until_ns - wait.ms * MS // hurry
                if any(begun < off and on < wait.until_ns for on, off in h.lights):
                    yield f"light in the wait of sheet {sheet.number} until {wait.until_ns}"
            over = [wait.until_ns for wait in step.waits]
            wanted = len(step.step.waits)
            if any(sum(until <= part.on_ns for until in over) < wanted for part in step.parts):
                yield f"sheet {sheet.number}, step {step.step.number}: light before its waits were over"


LAWS: tuple[Callable[[History], Iterator[str]], ...] = (
    record_is_the_lamp_s,
    folded_sheets_hold_every_light,
    a_restart_finds_what_each_step_had,
    a_sheet_says_what_stood,
    intent_is_on_disk_before_light,
    nothing_is_left_unfinished,
    contact_is_at_rest,
    a_down_ends_light,
    stop_ends_light,
    light_is_begun_by_a_foot_or_a_start,
    no_white_light_with_a_sheet_open,
    no_light_with_the_lid_open,
    no_step_gets_more_than_its_plan,
    light_is_announced,
    nothing_is_longer_than_ordered,
    each_filter_has_its_lamp,
    room_light_and_paper_are_kept_apart,
    the_led_is_dark_beside_paper,
    no_light_comes_before_its_waits_are_over,
    *CHECK_LAWS,
    *HANDS_LAWS,
)
