"""The laws that check lights are held to beside those of all light: each is one that was loaded, and opens no sheet.

Like `laws`, the judge knows what was told from pages, the lamp line's edges and the rows, and no grammar.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from controller.easel.plan import LONGEST_MS
from controller.recipe.plan import Plan
from controller.store.entries import Closed, Intent, LightCame, SheetPlanned

if TYPE_CHECKING:
    from tools.laws import History

MS = 1_000_000


def _lights(h: History) -> list[tuple[Intent, LightCame]]:
    """Return intent and fact of every light, in the order in which they came; of a check, one cut at once too."""
    assert h.journal is not None
    intents = {entry.light: entry for entry in h.journal.of(Intent)}
    lights = [(intents[one.light], one) for one in h.journal.of(LightCame)]
    counted = [light for light in lights if light[1].most_ns > 0 or light[0].light_kind == "check"]
    return sorted(counted, key=lambda light: light[1].on_ns)


def check_gap_ms(h: History, intent: Intent, on_ns: int) -> int | None:
    """Return the gap before a check light by the check that was loaded; None where a press begins it."""
    for at, plan in reversed(h.checks):
        if at <= on_ns and _is_of(plan, intent):
            return plan.steps[intent.step - 1].gap_ms
    return None


def checks_open_no_sheet(h: History) -> Iterator[str]:
    """A check light belongs to no sheet, and no check is ever planned as one."""
    assert h.journal is not None
    for intent, came in _lights(h):
        if intent.light_kind == "check" and intent.sheet:
            yield f"check light at {came.on_ns} belongs to the sheet {intent.sheet}"
    for planned in h.journal.of(SheetPlanned):
        if planned.plan.kind == "check":
            yield f"sheet {planned.number} was planned as a check"


def no_check_beside_paper(h: History) -> Iterator[str]:
    """While a sheet is open there is no check light."""
    assert h.journal is not None
    closed = {row.entry.sheet: row.at_ns for row in h.journal.rows if isinstance(row.entry, Closed)}
    opened: dict[str, int] = {}
    for intent, came in _lights(h):
        if intent.light_kind == "step":
            opened.setdefault(intent.sheet, came.on_ns)
    for intent, came in _lights(h):
        if intent.light_kind == "check":
            for sheet, at in opened.items():
                if at < came.on_ns + came.most_ns and came.on_ns < closed.get(sheet, h.until):
                    yield f"check light at {came.on_ns} while the sheet of {at} was open"


def each_check_light_was_loaded(h: History) -> Iterator[str]:
    """A check light is ordered as long as a check that was loaded says, whatever lag is set."""
    for intent, came in _lights(h):
        if intent.light_kind == "check":
            told = {
                plan.steps[intent.step - 1].planned_ms
                for at, plan in h.checks
                if at <= came.on_ns and 1 <= intent.step <= len(plan.steps)
            }
            if intent.lit_ms not in told:
                yield f"check light {intent.step} at {came.on_ns} is ordered for {intent.lit_ms}, loaded were {told}"


def is_reading(intent: Intent) -> bool:
    """Tell whether a check light is one under which a spot is measured: no check of the lamp is so long."""
    return intent.light_kind == "check" and intent.lit_ms == LONGEST_MS


def a_check_cut_short_is_over(h: History) -> Iterator[str]:
    """Every check light but a check's first follows the one before it, which was given whole."""
    before: tuple[Intent, LightCame] | None = None
    for intent, came in _lights(h):
        if intent.light_kind != "check" or is_reading(intent):
            continue
        if intent.step > 1:
            if before is None or before[0].step != intent.step - 1:
                yield f"check light {intent.step} at {came.on_ns} follows {before and before[0].step}"
            elif before[1].why != "complete":
                yield f"check light {intent.step} at {came.on_ns} after one that ended by {before[1].why}"
        before = intent, came


def no_white_light_in_a_check(h: History) -> Iterator[str]:
    """Between the lights of a check there is no white light and no room light, until it is put down."""
    # a page's close or another choice puts it down; a foot needs two holds for that, and 10 s later one or two more
    room = [at for at, _ in h.room]
    lights = _lights(h)
    for at, (intent, came) in enumerate(lights):
        if intent.light_kind != "check" or came.why != "complete" or is_reading(intent):
            continue
        end = came.on_ns + came.most_ns
        plan = next((p for told, p in reversed(h.checks) if told <= came.on_ns and _is_of(p, intent)), None)
        if plan is None or intent.step == len(plan.steps):
            continue  # it is over
        following = lights[at + 1] if at + 1 < len(lights) else None
        if following is not None and following[0].light_kind == "check" and following[0].step == intent.step + 1:
            for on in room[::2]:
                if end <= on < following[1].on_ns:
                    yield f"room light at {on} within a check"
        elif following is not None and following[0].light_kind == "focus":
            white = following[1].on_ns
            told = any(end - 100 * MS <= moment <= white for moment in h.put_down)
            holds = sum(down.hold is not None and end < down.hold <= white for down in h.downs)
            wait = h.habits.timing.after_close_ms * MS
            if not told and (holds < 3 or (not h.slow and white - end < wait)):
                yield f"white light at {white} by {holds} holds after a check light that ended at {end}"


def forgotten_readings_light_nothing(h: History) -> Iterator[str]:
    """After a minute in which nothing was lit, pressed or asked, no press begins a reading: they are over."""
    if h.slow:
        return
    lights = _lights(h)
    happened = sorted(
        [
            *(down.first for down in h.downs),
            *(came.on_ns + came.most_ns for _, came in lights),
            *(at for at, _ in h.lid),
            *h.stops,
            *h.asks,
            *h.put_down,
            *h.starts,
            *h.keepers,
        ]
    )
    for intent, came in lights:
        if is_reading(intent):
            begun = max((at for at in happened if at <= came.on_ns - h.habits.timing.lead_in_ms * MS), default=0)
            before = max((at for at in happened if at < begun), default=0)
            if begun - before > 61_000 * MS:
                yield f"reading at {came.on_ns} was begun {(begun - before) // MS} ms after anything else"


def _is_of(plan: Plan, intent: Intent) -> bool:
    return intent.step <= len(plan.steps) and plan.steps[intent.step - 1].planned_ms == intent.lit_ms


CHECK_LAWS: tuple[Callable[[History], Iterator[str]], ...] = (
    checks_open_no_sheet,
    no_check_beside_paper,
    each_check_light_was_loaded,
    a_check_cut_short_is_over,
    no_white_light_in_a_check,
    forgotten_readings_light_nothing,
)
