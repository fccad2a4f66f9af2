"""What is offered next, in words: one button for the negative in the carrier."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.exposure.decimals import typed_text_of
from controller.recipe.compile_strip import totals_ms
from controller.words import say
from webui.frame.looks import changes_of
from webui.wording import filter_called, seconds

if TYPE_CHECKING:
    from controller.daemon.desk import Desk
    from controller.daemon.next_desk import Next
    from controller.foot.status import Status
    from controller.recipe.strip import Strip

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
    return Offered(
        key=found.key,
        kind=found.offer.kind,
        words=_words(of, found),
        more=changes_of(found.offer.changes) if found.offer.changes else (),
        page=found.page,
        in_dark=found.offer.kind in IN_THE_DARK,
    )


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
