"""What pages that list things share: a page of a list as its address asks for it, and what a form offers to choose."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from flask import Blueprint, redirect, request

from controller.errors import NotThere
from webui.frame.context import desk

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from flask.typing import ResponseReturnValue

    from controller.store.finding import ThingsPage
    from controller.store.shelf import OfAKind
    from controller.store.versions import Kept


@dataclass(frozen=True)
class Listing:
    """A page of a list of things of one kind."""

    kind: str
    words: str
    """What is searched for; empty where it is all."""
    away: bool
    """It is what was put away."""
    below: int | None
    page: ThingsPage
    undo: Kept | None
    """What was put away just now."""

    def way(self, **changes: str | int | None) -> str:
        """Return the address, without its path, of another page of this list."""
        asked = {"kind": self.kind, "q": self.words, "away": "1" if self.away else "", **changes}
        return "?" + urlencode({name: value for name, value in asked.items() if value})


def listing(kind: str) -> Listing:
    """Return the page of a list that the present address asks for."""
    words, away = request.args.get("q", "").strip(), "away" in request.args
    below, undo = request.args.get("below", type=int), request.args.get("undo", "")
    page = desk().find().things(kind, words, below=below, away=away)
    return Listing(kind, words, away, below, page, _kept(undo) if undo else None)


@dataclass(frozen=True)
class Offered:
    """Recipes to choose one from."""

    words: str
    """What they were searched by; empty where they are those at hand."""
    recipes: Sequence[Kept]


def offered_recipes(words: str, chosen: str) -> Offered:
    """Return the recipes at hand, or those that were searched for; one that is chosen already is always among them."""
    words = words.strip()
    found = desk().find().things("recipe", words).things if words else desk().recipes().kept("recipe")
    return Offered(words, _with(found, chosen))


def offered_papers(*chosen: str) -> Sequence[Kept]:
    """Return the papers at hand; those that are chosen already are always among them."""
    return _with(desk().contrast().papers(), *chosen)


def _with(found: Sequence[Kept], *chosen: str) -> Sequence[Kept]:
    known = {kept.id for kept in found}
    more = [kept for source in chosen if source and source not in known and (kept := _kept(source)) is not None]
    return (*more, *found)


def _kept(source: str) -> Kept | None:
    try:
        return desk().recipes().fetch(source)
    except NotThere:
        return None


def let_be_put_away(blueprint: Blueprint, place: str, shelf: Callable[[], OfAKind], *, away: str, out: str) -> None:
    """Let the things below `place` be put away and taken out again.

    `away` and `out` are the addresses to go on to, with `{id}` and `{kind}` where those stand.
    """

    @blueprint.post(f"{place}/<source>/away")
    def put_away(source: str) -> ResponseReturnValue:
        """Take it off the list; its versions, and the sheets made with it, stay."""
        shelf().put_away(source)
        return redirect(away.format(id=source, kind=shelf().get(source).kind), 303)

    @blueprint.post(f"{place}/<source>/out")
    def take_out(source: str) -> ResponseReturnValue:
        """Put it back on the list."""
        shelf().take_out(source)
        return redirect(out.format(id=source), 303)
