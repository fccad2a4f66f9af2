"""What a picked band of a strip means, and the next recipe it leads to; pure."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from string import ascii_uppercase
from typing import Final, Literal

from pydantic import Field, ValidationError

from controller.errors import Impossible
from controller.exposure.burns import burn_ms
from controller.exposure.stops import fraction_text, round_ms, seconds_text, shown
from controller.exposure.strip_times import between_ms
from controller.model import Frozen
from controller.recipe.asks import hands_moved
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.fields import LONGEST_MS
from controller.recipe.plan import Plan, StepKind, StripPlan
from controller.recipe.recipe import Burn, Dodge, Lens, Recipe, Work, must_tell_lights_apart
from controller.recipe.steps import MOST_STEPS
from controller.recipe.strip import Strip
from controller.words import say

_MOST_BASES: Final = 4
_CARRIED: Final = ("negative", "paper", "magnification", "lens", "head_height_mm", "filters", "flash")


class Pick(Frozen):
    """A band, or the place between it and the next, and what it says."""

    kind: Literal["base", "burn"]
    filter: str
    band: int = Field(ge=1)
    between: bool = False
    seconds: float = Field(ge=0)
    """A base's seconds; of a burn what it adds to the strip's base. To 0.1 s, or as typed."""
    stops: str = ""
    """A burn's stops, as the text of an exact fraction; "0" means no burn."""


def read_pick(plan: Plan, band: int, *, between: bool = False) -> Pick:
    """Return what it means to pick `band` of a strip's plan, or the place between it and the next.

    Seconds and stops strips: the base through the strip's filter, with what lies over the whole strip through
    the same filter; between two bands the geometric mean, to 0.1 s. Burn strips: the stops; between two bands
    the mean of their stops.

    Raises:
        Impossible: the plan is not a strip's, or has no such band.
    """
    strip = plan.strip
    if strip is None:
        raise Impossible(say("reckoning.pick-not-a-strip", title=shown(plan.title)))
    bands = len(strip.totals_ms)
    if not 1 <= band <= bands - between:
        raise Impossible(say("reckoning.pick-no-such-band", band=band, bands=bands))
    if strip.kind == "burn":
        return _burn_pick(strip, band, between)
    over_all = sum(
        s.planned_ms for s in plan.steps if s.act in (StepKind.UNDER, StepKind.AFTER) and s.filter == strip.filter
    )
    totals = [total + over_all for total in strip.totals_ms]
    ms = _between_ms(totals[band - 1], totals[band]) if between else totals[band - 1]
    return Pick(kind="base", filter=strip.filter, band=band, between=between, seconds=ms / 1000)


def _between_ms(less_ms: int, more_ms: int) -> int:
    """Return what lies between two bands: the geometric mean, or half of a first band that follows one with none."""
    return between_ms(less_ms, more_ms) if less_ms else round_ms(Fraction(more_ms, 2))


def _burn_pick(strip: StripPlan, band: int, between: bool) -> Pick:
    assert strip.base_ms is not None
    stops = [Fraction(text) for text in strip.stops]
    value = (stops[band - 1] + stops[band]) / 2 if between else stops[band - 1]
    return Pick(
        kind="burn",
        filter=strip.filter,
        band=band,
        between=between,
        seconds=burn_ms(strip.base_ms, value) / 1000,
        stops=fraction_text(value),
    )


def pick_offered(strip: Strip) -> str | None:
    """Return why a pick from this strip is not offered as a base, in one sentence; None where it is.

    A time means nothing without the aperture and the height it was made at; the stops of a burn do.
    """
    if strip.times.kind == "burn" and strip.template != "flash":
        return None
    return _without_setup(strip)


def lacking_setup(strip: Strip) -> tuple[Literal["aperture", "head-height"], ...]:
    """Return which figures of its set-up a strip does not say, without which a time picked from it means nothing."""
    aperture = strip.lens.aperture if strip.lens else None
    told = (("aperture", aperture), ("head-height", strip.head_height_mm))
    return tuple(name for name, value in told if value is None)  # type: ignore[misc]  # the two names above


def with_setup(strip: Strip, aperture: Decimal | None, head_height_mm: Decimal | None) -> Strip:
    """Return a strip with what it does not say of its set-up; what it says stays."""
    lacking = lacking_setup(strip)
    told: dict[str, object] = {}
    if "aperture" in lacking and aperture is not None:
        told["lens"] = (strip.lens or Lens()).model_copy(update={"aperture": aperture})
    if "head-height" in lacking and head_height_mm is not None:
        told["head_height_mm"] = head_height_mm
    return strip.model_copy(update=told) if told else strip


def as_it_stood(strip: Strip, at: AtEnlarger | None) -> Strip:
    """Return a strip with what it does not say of its set-up as it stood at the enlarger; what it says stays."""
    if at is None:
        return strip
    strip = with_setup(strip, _figure(at.aperture), _figure(at.head_height_mm))
    if strip.magnification is None and at.magnification is not None:
        strip = strip.model_copy(update={"magnification": _figure(at.magnification)})
    return strip


def _figure(stood: float | None) -> Decimal | None:
    """Return a figure of the enlarger's as one would type it: 8, not 8.0."""
    return None if stood is None else Decimal(f"{stood:.6g}")


def _without_setup(strip: Strip) -> str | None:
    if strip.template == "flash":
        return say("reckoning.pick-flash")
    match lacking_setup(strip):
        case ():
            return None
        case (name,):
            return say(f"reckoning.pick-without-{name}")
    return say("reckoning.pick-without-both")


def look_for(strip: Strip) -> tuple[str, ...]:
    """Return what to look at when a band is picked, one sentence each."""
    soft, hard = (strip.filters.soft, strip.filters.hard) if strip.filters else (None, None)
    if strip.template == "flash":
        keys: tuple[str, ...] = ("reckoning.look-flash",)
    elif strip.times.kind == "burn":
        keys = ("reckoning.look-burn",)
    elif strip.filter in ("soft", soft):
        keys = ("reckoning.look-soft",)
    elif strip.filter in ("hard", hard):
        keys = ("reckoning.look-hard",)
    elif strip.magnification == 1:
        keys = ("reckoning.look-contact", "reckoning.look-one")
    elif strip.magnification is None:
        keys = ("reckoning.look-one", "reckoning.look-contact")
    else:
        keys = ("reckoning.look-one",)
    told = tuple(say(key) for key in keys)
    return told if strip.template == "flash" else (*told, say("reckoning.look-between"))


def apply_pick(
    recipe: Recipe | None, strip: Strip, pick: Pick, *, area: str = "", what: str = "", longest_ms: int = LONGEST_MS
) -> Recipe:
    """Return the next recipe: `recipe`, or a new one, with the pick as its base or as one more burn.

    Other bases and local work stay; a pick of no light takes its base out. Lights over the whole strip come along
    through filters that the recipe has no base for. A burn replaces the burn of the same `area` through its filter;
    without an area it takes the next free letter. No burn (the first band) leaves local work alone.

    Raises:
        Impossible: the strip has no aperture or height, was made at another setting than the recipe, or the
            recipe has no room.
    """
    refused = pick_offered(strip) if recipe is not None else _without_setup(strip)
    if refused is not None:
        raise Impossible(refused)
    if recipe is not None:
        must_tell_lights_apart(recipe)
    bases = {light.filter: light.seconds for light in recipe.light} if recipe else {}
    lying_over = _lying_over(strip)
    if pick.kind == "base" and not pick.seconds:
        _check_work(recipe, pick.filter)
        bases.pop(pick.filter, None)
        lying_over.pop(pick.filter, None)
    elif pick.kind == "base":
        bases |= {pick.filter: Decimal(str(pick.seconds))} if pick.filter in bases else {}
        lying_over[pick.filter] = Decimal(str(pick.seconds))
    elif pick.filter not in bases | lying_over:
        raise Impossible(say("reckoning.pick-no-base", filter=pick.filter))
    for filter_name, seconds in lying_over.items():
        if filter_name not in bases:
            new = {filter_name: seconds}
            bases = new | bases if recipe and _is_soft(filter_name, strip) else bases | new
    if not bases:
        raise Impossible(say("reckoning.pick-no-light", filter=pick.filter))
    _check_bases(bases, longest_ms)
    local = recipe.local if recipe else ()
    if pick.kind == "burn" and Fraction(pick.stops) > 0:
        local = _with_burn(local, pick, area, what)
    return _next(recipe, strip, bases, local, longest_ms)


def same_setup(recipe: Recipe, strip: Strip) -> None:
    """See that a strip was made as the recipe stands; what one of them does not say is no difference.

    Raises:
        Impossible: at another aperture, height or magnification; the sentence says which.
    """
    written: dict[str, object] = {}
    for name in ("head_height_mm", "magnification"):
        ours = getattr(recipe, name)
        written[name] = getattr(strip, name) if ours is None else ours
    written["lens"] = _both_say(recipe.lens or Lens(), strip.lens or Lens())
    _check_setup(written, strip)


def _lying_over(strip: Strip) -> dict[str, Decimal]:
    """Return the strip's filters with what lies over the whole of it, its own filter at its place in the order."""
    seconds = dict.fromkeys(
        [*(u.filter for u in strip.under), strip.filter, *(a.filter for a in strip.after)], Decimal(0)
    )
    for light in (*strip.under, *strip.after):
        seconds[light.filter] += light.seconds
    return {
        name: value for name, value in seconds.items() if value or (name == strip.filter and strip.times.kind != "burn")
    }


def _is_soft(filter_name: str, strip: Strip) -> bool:
    return filter_name in ("soft", strip.filters.soft if strip.filters else "soft")


def _check_bases(bases: dict[str, Decimal], longest_ms: int) -> None:
    if len(bases) > _MOST_BASES:
        raise Impossible(say("reckoning.pick-too-many-bases", filters=", ".join(bases), most=_MOST_BASES))
    for filter_name, seconds in bases.items():
        if seconds * 1000 > longest_ms:
            longest = seconds_text(longest_ms)
            raise Impossible(say("reckoning.pick-too-long", filter=filter_name, seconds=seconds, longest=longest))


def _check_work(recipe: Recipe | None, filter_name: str) -> None:
    """Refuse to take out a base that local work is reckoned on."""
    for work in recipe.local if recipe else ():
        if work.filter == filter_name and (work.stops is not None or isinstance(work, Dodge)):
            raise Impossible(say("reckoning.pick-work-without-base", area=work.area, filter=filter_name))


def _with_burn(local: tuple[Work, ...], pick: Pick, area: str, what: str) -> tuple[Work, ...]:
    taken = {work.area for work in local}
    letter = area or next((free for free in ascii_uppercase if free not in taken), "Z")
    burn = {"area": letter, "act": "burn", "filter": pick.filter, "stops": pick.stops}
    same = [i for i, w in enumerate(local) if isinstance(w, Burn) and (w.area, w.filter) == (area, pick.filter)]
    if same:
        what, words = what or local[same[0]].what or "", local[same[0]].words
        burn |= {"words": words} if words else {}
    new = Burn.model_validate(burn | ({"what": what} if what else {}))
    if same:
        return (*local[: same[0]], new, *local[same[0] + 1 :])
    return (*local, new)


def _next(
    recipe: Recipe | None, strip: Strip, bases: dict[str, Decimal], local: tuple[Work, ...], longest_ms: int
) -> Recipe:
    context = {"longest_ms": longest_ms}
    written: dict[str, object] = {name: getattr(recipe, name) for name in recipe.model_fields_set} if recipe else {}
    for name in _CARRIED:
        ours, theirs = written.get(name), getattr(strip, name)
        if ours is None and theirs is not None:
            written[name] = theirs
    if recipe and recipe.lens and strip.lens:
        written["lens"] = _both_say(recipe.lens, strip.lens)
    _check_setup(written, strip)
    carriers = {light.filter: {"carrier": light.carrier} for light in (recipe.light if recipe else ()) if light.carrier}
    written |= {
        "title": recipe.title if recipe else strip.negative.name if strip.negative else strip.title,
        "light": [{"filter": name, "seconds": seconds, **carriers.get(name, {})} for name, seconds in bases.items()],
        "local": local,
    }
    if recipe is not None and recipe.hands:
        at = {light.filter: n for n, light in enumerate(recipe.light)}
        lines = [n if n < len(recipe.local) else None for n in range(len(local))]
        written["hands"] = hands_moved(recipe, [at.get(name) for name in bases], lines)
    try:
        return Recipe.model_validate(written, context=context)
    except ValidationError:
        # Only too much local work is left to refuse: everything else has been checked on its way here.
        raise Impossible(say("recipe.too-many-steps", number=len(local) + len(bases), most=MOST_STEPS)) from None


def _both_say(ours: Lens, theirs: Lens) -> Lens:
    told = {name: value for name, value in theirs if value is not None} | {
        name: value for name, value in ours if value is not None
    }
    return Lens.model_validate(told)


def _check_setup(written: dict[str, object], strip: Strip) -> None:
    """Refuse a pick that was made at another aperture, height or magnification than the recipe's."""
    lens = written.get("lens")
    aperture = lens.aperture if isinstance(lens, Lens) else None
    pairs = {
        "aperture": (aperture, strip.lens.aperture if strip.lens else None),
        "head-height": (written.get("head_height_mm"), strip.head_height_mm),
        "magnification": (written.get("magnification"), strip.magnification),
    }
    for name, (ours, theirs) in pairs.items():
        if theirs is not None and ours != theirs:
            raise Impossible(say(f"reckoning.pick-other-{name}", ours=ours, theirs=theirs))


class PickMeaning(Frozen):
    """What a pick would mean for the next recipe, in words and in figures."""

    pick: Pick
    meaning: str
    """One sentence: the base it makes, or the burn."""
    look_for: tuple[str, ...]
    """What to look at on the strip, one sentence each."""
    not_offered: str | None = None
    """Why it cannot become a base, in one sentence; None where it can."""
    confirms: str = ""
    """The carried recipe that this check strip confirms, by its id; empty where it is no check strip."""
    title: str = ""
    """What a new recipe of it is called unless the printer says otherwise; empty where the sheet is not known."""


def pick_meaning(plan: Plan, strip: Strip, band: int, *, between: bool = False) -> PickMeaning:
    """Return what it means to pick `band` of a strip, or the place between it and the next.

    Raises:
        Impossible: there is no such band.
    """
    pick = read_pick(plan, band, between=between)
    seconds = seconds_text(round(pick.seconds * 1000))
    if strip.template == "flash":
        meaning = say("reckoning.pick-level", filter=pick.filter, seconds=seconds)
    elif pick.kind == "base" and not pick.seconds:
        meaning = say("reckoning.pick-none", filter=pick.filter)
    elif pick.kind == "base":
        key = "reckoning.pick-base-numbered" if pick.filter[:1].isdigit() else "reckoning.pick-base"
        meaning = say(key, filter=pick.filter, seconds=seconds)
    elif Fraction(pick.stops) == 0:
        meaning = say("reckoning.pick-no-burn", filter=pick.filter)
    else:
        meaning = say("reckoning.pick-burn", filter=pick.filter, stops=pick.stops, seconds=seconds)
    return PickMeaning(pick=pick, meaning=meaning, look_for=look_for(strip), not_offered=pick_offered(strip))
