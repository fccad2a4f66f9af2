"""What is offered next, in words: one button for the negative in the carrier."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from controller.carry.moved import TWELFTHS
from controller.exposure.decimals import typed_text_of
from controller.exposure.stops import fraction_text
from controller.recipe.compile_strip import totals_ms
from controller.words import say
from webui.frame.looks import changes_of
from webui.wording import filter_called, seconds

if TYPE_CHECKING:
    from controller.carry.moved import Moved
    from controller.daemon.desk import Desk
    from controller.daemon.offers import Next
    from controller.foot.status import Status
    from controller.recipe.strip import Strip
    from controller.store.versions import Kept

IN_THE_DARK: Final = frozenset(
    {
        "first strip",
        "proof strip",
        "hard strip",
        "finer strip",
        "same-spot strip",
        "wider strip",
        "print",
        "print again",
        "burn strip",
        "flash strip",
        "moved",
    }
)
"""Offers that need nothing white."""


@dataclass(frozen=True, slots=True)
class Offered:
    """One offer as its button shows it."""

    key: str
    kind: str
    words: str
    more: tuple[str, ...]
    page: str
    in_dark: bool


def offered_of(of: Desk, status: Status) -> Offered | None:
    """Return what is offered at `status`, or None."""
    found = of.next().offer(status)
    if found is None:
        return None
    return _offered(of, found)


def _offered(of: Desk, found: Next) -> Offered:
    return Offered(
        key=found.key,
        kind=found.offer.kind,
        words=_words(of, found),
        more=(*_moved(found), *(changes_of(found.offer.changes) if found.offer.changes else ())),
        page=found.page,
        in_dark=found.offer.kind in IN_THE_DARK,
    )


def moved_of(of: Desk, kept: Kept) -> Offered | None:
    """Return what is offered on a recipe's review of what has moved on its paper; None where nothing has."""
    found = of.next().of_recipe(kept.id, kept.version) if kept.kind == "recipe" else None
    return None if found is None else _offered(of, found)


def _moved(found: Next) -> tuple[str, ...]:
    """Return what has moved on a recipe's paper, and what of it is known; nothing where that is not what it goes by."""
    return () if found.moved is None else (moved_words(found.moved),)


def moved_words(moved: Moved) -> str:
    """Return in one sentence what has moved, and what it makes of every recipe on this paper."""
    key = "page.moved-box" if moved.box else "page.moved-lamp"
    if moved.box and not moved.box_known:
        key = "page.moved-box-unread"
    stops = ", ".join(
        say("page.moved-stops", filter=filter_called(each.filter), stops=_in_twelfths(each.stops))
        for each in moved.stops
    )
    return say(key, box=moved.box, stops=stops)


def _in_twelfths(stops: float) -> str:
    """Return stops as a printer says them beside seconds: "−1/6", "+1/12", "±0"."""
    twelfths = round(stops * TWELFTHS)
    sign = "±" if not twelfths else "−" if twelfths < 0 else "+"
    return f"{sign}{fraction_text(abs(Fraction(twelfths, TWELFTHS)))}"


def _words(of: Desk, found: Next) -> str:
    offer, key = found.offer, f"page.next-{found.offer.kind.replace(' ', '-')}"
    if offer.strip is not None:
        return say(key, **_of_strip(offer.strip))
    lights = _lights(of, offer.recipe, offer.version) if offer.kind == "print" else ""
    return say(key, number=found.number, seconds=f"{found.seconds:.1f}", lights=lights)


def _lights(of: Desk, recipe: str, version: int) -> str:
    """Return a recipe's bases in short: "soft 12.0 s, hard 8.0 s"."""
    light = of.recipes().recipe(recipe, version).light
    return ", ".join(f"{filter_called(each.filter)} {typed_text_of(each.seconds)} s" for each in light)


def _of_strip(strip: Strip) -> dict[str, str]:
    totals = [total for total in totals_ms(strip.times) if total]
    under = strip.under[0] if strip.under else None
    return {
        "least": seconds(min(totals)),
        "most": seconds(max(totals)),
        "filter": filter_called(strip.filter),
        "under": typed_text_of(under.seconds) if under else "",
        "soft": filter_called(under.filter) if under else "",
    }
