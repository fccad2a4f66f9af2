"""A test strip to its steps: what lies under it, one light a band (or one long light), what comes after."""

from __future__ import annotations

from fractions import Fraction
from typing import Final, Literal

from controller.errors import Impossible, standing_at
from controller.exposure import strip_times as strips
from controller.exposure.stops import MOST_STOPS, fraction_text, parse_more_stops, seconds_text, signed_text
from controller.exposure.strip_times import Pulse
from controller.recipe.fields import LONGEST_MS, milliseconds
from controller.recipe.plan import Hands, Mark, Plan, StepKind, StripPlan
from controller.recipe.set_up import SetUp
from controller.recipe.steps import SHORT_PULSE_MS, STOP_DOWN, Steps, advice_of, put_flash
from controller.recipe.strip import BurnTimes, EvenTimes, Rhythm, SheetTimes, StopTimes, Strip, Times
from controller.words import say

NO_BASE: Final = "recipe.advice-burn-strip-no-base"


def compile_strip(strip: Strip, *, source: str, version: int, longest_ms: int = LONGEST_MS) -> Plan:
    """Return the plan of a strip: `source` and `version` say where on the shelf it came from.

    A band's light is named after the band it sets apart from the one before; bands count from the least
    light, so that an uncovered strip begins with its last band.

    Raises:
        Impossible: the sentence names the value and what would do.
    """
    if isinstance(strip.times, SheetTimes):
        return _sheets(strip, strip.times, source, version, longest_ms)
    totals = totals_ms(strip.times)
    with standing_at("times", "step"):
        lights = strips.pulses(totals, strip.card)
    pace: Literal["press", "rhythm", "long"]
    match strip.pace:
        case Rhythm():
            pace = "rhythm"
        case "long":
            pace = "long"
        case _:
            pace = "press"
    if pace == "long" and strip.card == "window":
        raise Impossible(say("recipe.long-window"), ("pace",))
    if strip.flash is not None and strip.template == "flash":
        raise Impossible(say("recipe.flash-under-threshold"), ("flash",))
    _check_base(strip)
    _check_stops(strip.times)

    steps = Steps(longest_ms)
    flashed = put_flash(steps, strip.flash, strip.filter)
    if strip.template == "flash":
        steps.ask(Hands.OPAL_IN if strip.opal else Hands.NEGATIVE_OUT)
    _put_whole(steps, strip, StepKind.UNDER)
    with standing_at("times", "bands"):
        if pace == "long":
            _put_long(steps, strip, lights)
        else:
            _put_bands(steps, strip, totals, lights)
    _put_whole(steps, strip, StepKind.AFTER)
    all_steps = steps.all()
    burn = isinstance(strip.times, BurnTimes)
    return Plan(
        source=source,
        version=version,
        kind="strip",
        title=strip.title,
        steps=all_steps,
        strip=StripPlan(
            filter=strip.filter,
            kind=strip.times.kind,
            card=strip.card,
            pace=pace,
            totals_ms=totals,
            pulses_ms=(sum(light.ms for light in lights),) if pace == "long" else tuple(p.ms for p in lights),
            stops=_stops(strip.times),
            base_ms=_base_ms(strip.times),
            template=strip.template,
        ),
        flashed=flashed,
        advice=advice_of(all_steps, *((NO_BASE,) if burn and not _under_ms(strip) else ())),
        wants=SetUp.of_written(strip),
    )


def _sheets(strip: Strip, times: SheetTimes, source: str, version: int, longest_ms: int) -> Plan:
    """Return the plan of sheets that are flashed beforehand: a press, and a light, for each."""
    if strip.flash is not None or strip.under or strip.after:
        raise Impossible(say("recipe.sheets-nothing-else"))
    steps, ms = Steps(longest_ms), milliseconds(times.seconds)
    steps.ask(Hands.OPAL_IN if strip.opal else Hands.NEGATIVE_OUT)
    with standing_at("times", "seconds"):
        for number in range(1, times.sheets + 1):
            name = say("recipe.name-sheet", sheet=number, sheets=times.sheets)
            card = "recipe.card-sheet-next" if number > 1 else "recipe.card-sheet-first"
            steps.put(name, StepKind.FLASH, strip.filter, ms, ms, card=card)
    wants = SetUp.of_written(strip)
    return Plan(source=source, version=version, kind="strip", title=strip.title, steps=steps.all(), wants=wants)


def totals_ms(times: Times) -> tuple[int, ...]:
    """Return what each band has had in the end: of its own light for a burn strip, over the base."""
    match times:
        case EvenTimes():
            return strips.even_totals(milliseconds(times.step), times.bands)
        case StopTimes(none_first=True):
            return 0, *strips.stop_totals(milliseconds(times.centre), parse_more_stops(times.step), times.bands - 1)
        case StopTimes():
            return strips.stop_totals(milliseconds(times.centre), parse_more_stops(times.step), times.bands)
        case SheetTimes():
            return (milliseconds(times.seconds),) * times.sheets
        case BurnTimes():
            return strips.burn_totals(milliseconds(times.base), parse_more_stops(times.step), times.bands)


def _stops(times: Times) -> tuple[str, ...]:
    if not isinstance(times, BurnTimes):
        return ()
    return tuple(map(fraction_text, strips.burn_stops(parse_more_stops(times.step), times.bands)))


def _base_ms(times: Times) -> int | None:
    return milliseconds(times.base) if isinstance(times, BurnTimes) else None


def _under_ms(strip: Strip) -> int:
    """Return what lies over the whole strip through its own filter."""
    return sum(milliseconds(light.seconds) for light in (*strip.under, *strip.after) if light.filter == strip.filter)


def _check_base(strip: Strip) -> None:
    base, under = _base_ms(strip.times), _under_ms(strip)
    if base is not None and under and base != under:
        raise Impossible(
            say("recipe.burn-base-differs", base=seconds_text(base), under=seconds_text(under), filter=strip.filter),
            ("times", "base"),
        )


def _check_stops(times: Times) -> None:
    most = strips.burn_stops(parse_more_stops(times.step), times.bands)[-1] if isinstance(times, BurnTimes) else 0
    if most > MOST_STOPS:
        raise Impossible(
            say("recipe.burn-stops-range", bands=times.bands, stops=fraction_text(Fraction(most)), most=MOST_STOPS),
            ("times", "bands"),
        )


def _put_whole(steps: Steps, strip: Strip, act: Literal[StepKind.UNDER, StepKind.AFTER]) -> None:
    for line, light in enumerate(strip.under if act is StepKind.UNDER else strip.after):
        ms = milliseconds(light.seconds)
        name = say("recipe.name-base-of", filter=light.filter)
        card = "recipe.card-none" if act is StepKind.UNDER else "recipe.card-away"
        with standing_at(act.value, line, "seconds"):
            steps.put(name, act, light.filter, ms, ms, card=card)


def _put_bands(steps: Steps, strip: Strip, totals: tuple[int, ...], lights: tuple[Pulse, ...]) -> None:
    stops = _stops(strip.times)
    for place, light in enumerate(lights):
        gap = milliseconds(strip.pace.gap_seconds) if place and isinstance(strip.pace, Rhythm) else None
        # The first total and every window are lights of their own; a later band is a difference of totals.
        own = light.ms if light.ms == totals[light.band - 1] else None
        steps.put(
            say("recipe.name-band", band=light.band, bands=len(totals)),
            StepKind.BAND,
            strip.filter,
            light.ms,
            _base_ms(strip.times) or own,
            stops=signed_text(stops[light.band - 1]) if stops else None,
            card=_card(strip, place, light),
            gap_ms=gap,
        )


def _put_long(steps: Steps, strip: Strip, lights: tuple[Pulse, ...]) -> None:
    whole = sum(light.ms for light in lights)
    first = min(light.band for light in lights)
    steps.put(
        say("recipe.name-bands", first=first, last=strip.times.bands),
        StepKind.LONG,
        strip.filter,
        whole,
        _base_ms(strip.times) or whole,
        card=_card(strip, 0, lights[0]),
        marks=tuple(Mark(at_ms=at, cue="move card") for at in strips.card_moves_ms(lights)),
        advice=(STOP_DOWN,) if any(light.ms < SHORT_PULSE_MS for light in lights) else (),
    )


def _card(strip: Strip, place: int, light: Pulse) -> str:
    """Return where the card is for one light: the key of its words."""
    match strip.card:
        case "cover" if light.band == 1:
            return "recipe.card-none"
        case "cover":
            return "recipe.card-cover-first" if place == 0 else "recipe.card-cover-next"
        case "uncover" if light.band == 1:
            return "recipe.card-away"
        case "uncover":
            return "recipe.card-uncover-first" if place == 0 else "recipe.card-uncover-next"
        case "window":
            return "recipe.card-window-first" if place == 0 else "recipe.card-window-next"
