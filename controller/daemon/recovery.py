"""After a crash or a power cut: files what the last daemon could not, and finds where its sheet stands. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from controller.exposure import lag
from controller.foot.asks import after_restart
from controller.foot.state import TWELFTH, Given, Habits, Last, Work
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.set_up import SetUp
from controller.store.entries import (
    CalledGiven,
    Closed,
    Entry,
    Intent,
    LightCame,
    NoLightCame,
    Started,
    StoodAtEnlarger,
)
from controller.store.records import PartRecord, SheetRecord, StepRecord
from controller.store.rows import Row
from controller.store.tray_rows import TrayEntered
from controller.trays import journey
from controller.trays.process import TrayName, process_for
from hardware.clock import NS_PER_MS
from hardware.slate import Page, interrupted

_NEARLY_NS: Final = 2 * NS_PER_MS
_LONG_AGO_NS: Final = -(10**18)
"""Before any boot's monotonic clock began."""
_UNFINISHED_WHY: Final = "keeper"
_POWER_WHY: Final = "fault"
_ENDED_WITH_ITS_DAEMON: Final = frozenset({"tether", "keeper", "fault"})
_WHYS: Final = frozenset({"complete", "foot", "page", "level", "limit", "lease", "lid", "tether", "keeper", "fault"})

RECOVERED_BY: Final = ("intent", "light", "started", "loaded", "at the enlarger", "closed", "tray")
"""The kinds of rows that tell where the last daemon stood."""


def that_tell(rows: Iterable[Row], unfinished: Iterable[Intent]) -> list[Row]:
    """Return the rows that the others here go by, without the many lights of sheets that are over.

    An evening's thousands are given one by one, and never stand in memory together.
    """
    doubtful, checks = {intent.light for intent in unfinished}, set[str]()
    told: list[Row] = []
    newest: Row | None = None
    for row in rows:
        match row.entry:
            case Intent() as intent:
                if intent.light_kind == "check":
                    checks.add(intent.light)
                elif intent.light not in doubtful:
                    continue
            case LightCame() as came if came.light not in checks:
                newest = row
                continue
        told.append(row)
    if newest is not None:
        told.append(newest)
        told.sort(key=lambda row: row.number)
    return told


def file_unfinished(
    rows: Iterable[Row], unfinished: Iterable[Intent], pages: Sequence[Page], now_boot: str, dark_ns: int
) -> list[Entry]:
    """Return what is to be filed of lights that were intended and of which nothing more is on file.

    Args:
        rows: the journal's rows, for the boot in which each intent was written.
        unfinished: intents with neither light nor refusal.
        pages: what stood on the slate before the first keeper of this run was woken, and then what an earlier daemon
            kept aside of a keeper before that; none where nothing stood there.
        now_boot: the boot this is.
        dark_ns: when this run's keeper had the line dark.
    """
    boots = {row.entry.light: row.boot for row in rows if isinstance(row.entry, Intent)}
    return [_outcome(intent, boots.get(intent.light, now_boot), pages, now_boot, dark_ns) for intent in unfinished]


def _outcome(intent: Intent, boot: str, pages: Sequence[Page], now_boot: str, dark_ns: int) -> Entry:
    page = next((page for page in pages if page.id == intent.light), pages[0] if pages else None)
    if page is None or page.boot != boot or not page.id:
        # the slate is gone with its memory, is of another boot, or a keeper that knew of no order has begun it
        # anew: between nothing and the whole order
        return LightCame(
            light=intent.light,
            on_ns=intent.start_ns,
            least_ns=0,
            most_ns=max(intent.lit_ms, intent.longest_ms) * NS_PER_MS,
            why=_POWER_WHY,
        )
    if page.id != intent.light:
        return NoLightCame(light=intent.light, why="not sent")
    if page.lit:
        found = interrupted(page, dark_ns, now_boot)
        assert found is not None
        return LightCame(
            light=intent.light,
            on_ns=found.on_ns,
            least_ns=found.least_ns,
            most_ns=found.most_ns,
            why=_UNFINISHED_WHY,
        )
    if not page.on_ns:
        return NoLightCame(light=intent.light, why="tether")
    lit_ns = page.dark_ns - page.on_ns
    why = page.why if page.why in _WHYS else "tether"
    # how far too strong it was went with the daemon that knew: between what its time stands for and the whole
    most_ns = max(lit_ns, intent.lit_ms * NS_PER_MS) if why == "level" else lit_ns
    return LightCame.model_validate(
        {"light": intent.light, "on_ns": page.on_ns, "least_ns": lit_ns, "most_ns": most_ns, "why": why}
    )


def call_short(record: SheetRecord, lag_ms: int) -> list[Entry]:
    """Return what is to be filed of an open sheet's steps that lack less than can be lit: they count as given."""
    return [
        CalledGiven(sheet=record.id, step=step.step.number, by="rule")
        for step in record.steps
        if step.parts and not _given(step, lag_ms).settled and not _in_doubt(step, lag_ms) and _short(step, lag_ms)
    ]


def _wanted_ns(step: StepRecord, lag_ms: int) -> int:
    return lag.planned_full_ns(step.step.planned_ms, step.step.base_ms, lag_ms)


def _in_doubt(step: StepRecord, lag_ms: int) -> bool:
    least, most = step.reckoned_ns
    return most - least > _wanted_ns(step, lag_ms) * TWELFTH


def _short(step: StepRecord, lag_ms: int) -> bool:
    most = step.reckoned_ns[1]
    return most > 0 and not lag.worth_lighting(_wanted_ns(step, lag_ms) - most, lag_ms)


@dataclass(frozen=True, slots=True)
class Reopened:
    """A sheet that was found open: its work, as the grammar has it, its number, and when it had its first light."""

    work: Work
    number: int
    opened_ns: int


def reopen(record: SheetRecord, lag_ms: int, now_boot: str) -> Reopened:
    """Return the work of an open sheet, standing at the first step that is not settled.

    Light that was given is never given again: each step has what the record counts, at least and at most. How
    long a sheet has lain that another boot opened nobody knows, so its safe minutes are over.
    """
    steps = tuple(step.step for step in record.steps)
    given = tuple(_given(step, lag_ms) for step in record.steps)
    parts = [(index, part) for index, step in enumerate(record.steps) for part in step.parts if not part.struck]
    last = None
    if parts:
        index, part = max(parts, key=lambda pair: pair[1].came.row)
        last = Last(part.light, index, _before(given[index], part))
    opened_ns = record.opened.at_ns if record.opened.boot == now_boot else _LONG_AGO_NS
    work = Work(record.plan, steps, given, sheet=record.id, open=True, last=last, lit_ns=opened_ns).moved_on()
    asked = after_restart(work, (row.ask for row in record.hands))
    work = replace(work, asked=asked, waited=len(record.steps[work.index].waits))
    return Reopened(work, record.number, opened_ns)


def _given(step: StepRecord, lag_ms: int) -> Given:
    least, most = step.reckoned_ns
    counted = [part for part in step.parts if not part.struck]
    nearly = _wanted_ns(step, lag_ms) - most <= _NEARLY_NS and not _in_doubt(step, lag_ms)
    complete = nearly or any(part.why == "complete" for part in counted)
    return Given(
        least_ns=least,
        most_ns=most,
        parts=max((part.part for part in step.parts), default=0),
        done=complete and bool(counted),
        called=step.called_given,
        left_out=step.left_out,
    )


def _before(given: Given, part: PartRecord) -> Given:
    least, most = part.reckoned_ns
    return Given(
        least_ns=max(0, given.least_ns - least), most_ns=max(0, given.most_ns - most), parts=max(0, given.parts - 1)
    )


def stood_at_enlarger(rows: Sequence[Row], newest: SheetRecord | None) -> AtEnlarger:
    """Return what stands at the enlarger: the last row of the tail that says so, or what the newest sheet was made on.

    Each sheet has a copy of it, so it is known however long ago it was changed last.
    """
    for row in reversed(rows):
        if isinstance(row.entry, StoodAtEnlarger):
            return row.entry.bench
    return (None if newest is None else newest.plan.bench) or AtEnlarger()


def set_up_last(rows: Sequence[Row], newest: SheetRecord | None, bench: AtEnlarger) -> SetUp | None:
    """Return how it is set up: as the last sheet was, or as was made or said since; None where nothing is known."""
    told = next((row for row in reversed(rows) if isinstance(row.entry, StoodAtEnlarger)), None)
    made = told.entry.set_up if told is not None and isinstance(told.entry, StoodAtEnlarger) else None
    stands = SetUp.of_bench(bench) if made is None else made
    if newest is not None and (told is None or told.number < newest.opened.row):
        stands = (newest.plan.set_up or SetUp()).over(stands)
    return None if stands.bare else stands


def check_cut(rows: Sequence[Row]) -> bool:
    """Tell whether the last daemon ended within a light of a lamp's check; `rows` go up to this run's start."""
    checks = _checks(rows)
    for row in reversed(rows):
        match row.entry:
            case Started():
                return False
            case LightCame() as came:
                return came.light in checks and came.why in _ENDED_WITH_ITS_DAEMON
    return False


def paper_lay_ns(rows: Sequence[Row], now_boot: str, now_ns: int, wait_ms: int) -> int:
    """Return `wait_ms` after a sheet was last closed, or a check last had light: which check that was is not on file.

    Before that a daemon that starts now refuses holds, or room light: paper has to go away first. Of what another boot
    did nobody knows how long ago that is; it counts as done now.
    """
    checks = _checks(rows)
    for row in reversed(rows):
        entry = row.entry
        if isinstance(entry, Closed):
            return (row.at_ns if row.boot == now_boot else now_ns) + wait_ms * NS_PER_MS
        if isinstance(entry, LightCame) and entry.light in checks:
            return (entry.on_ns + entry.most_ns if row.boot == now_boot else now_ns) + wait_ms * NS_PER_MS
    return 0


def white_lay_ns(rows: Sequence[Row], now_boot: str, now_ns: int, habits: Habits) -> tuple[int, int]:
    """Return the moments before which white light, and room light, are refused for what may lie in the trays.

    Nobody follows a print any more that was in them: it counts as undeveloped. So white light waits as long as its
    process takes by the clock, or as its rows say where that is later, and five minutes after the close at the least;
    five minutes from now where another boot closed it. What is out of the trays by its rows waits as planned and no
    longer, and the printer's word ends all of it. Of several in this boot the last to be fixed counts, which need not
    be the last that was closed. Both are 0 where nothing does, or white light waits for nothing.
    """
    if not habits.trays and not habits.guard_without_trays:
        return 0, paper_lay_ns(rows, now_boot, now_ns, habits.room_after_close_ms)
    least_ns = habits.room_after_close_ms * NS_PER_MS // habits.hurry
    checks, out, last = _checks(rows), set[str](), dict[str, TrayEntered]()
    lay: list[tuple[int, int]] = []
    for row in reversed(rows):
        entry, same = row.entry, row.boot == now_boot
        if isinstance(entry, TrayEntered) and not entry.tray:
            if entry.by == "page":
                break  # nothing lay in the trays then
            out.add(entry.sheet)
        elif isinstance(entry, TrayEntered):
            last.setdefault(entry.sheet, entry)
        elif isinstance(entry, LightCame) and entry.light in checks:
            until_ns = (entry.on_ns + entry.most_ns if same else now_ns) + least_ns
            lay.append((until_ns, until_ns))
        elif isinstance(entry, Closed) and same:
            # one that went through them faster than planned, by holds, still waits as it was planned
            lay.append(_undeveloped(row.at_ns, last.get(entry.sheet), 0 if entry.sheet in out else least_ns, habits))
        elif isinstance(entry, Closed):
            lay.append((0, 0) if entry.sheet in out else (now_ns + least_ns, now_ns + least_ns))
        if lay and not same:
            break  # of another boot the last alone tells: those before it were in the fix when it had its light
    return max((white for white, _ in lay), default=0), max((room for _, room in lay), default=0)


def _undeveloped(closed_ns: int, last: TrayEntered | None, least_ns: int, habits: Habits) -> tuple[int, int]:
    """Return until when a print closed in this boot, which nobody follows any more, keeps white and room light away."""
    if last is None and not habits.trays:
        return closed_ns + least_ns, closed_ns + least_ns
    process = process_for("" if last is None else last.support, habits.processes)
    if last is not None and last.developer_seconds is not None:
        longer = max(process.developer_seconds, last.developer_seconds)
        process = process.model_copy(update={"developer_seconds": longer})
    tray: TrayName = "on its way" if last is None or not last.tray else last.tray
    since_ns = closed_ns if last is None else last.at_ns
    planned_ms = sum(one.ms for one in process.trays[: process.first_fix])
    fix_ns = max(
        journey.latest_fix_ns(process, tray, since_ns, habits.hurry),
        closed_ns + planned_ms * NS_PER_MS // habits.hurry,
    )
    white_ns, room_ns = (
        max(closed_ns + least_ns, fix_ns + round(ms * NS_PER_MS) // habits.hurry)
        for ms in (process.least_fix_seconds * 1000, journey.room_in_fix_ms(process))
    )
    return white_ns, room_ns


def _checks(rows: Iterable[Row]) -> set[str]:
    """Return the lights that were a check's."""
    return {row.entry.light for row in rows if isinstance(row.entry, Intent) and row.entry.light_kind == "check"}
