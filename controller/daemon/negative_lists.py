"""Sets of negatives, looked at: lists by day, searches, one set or negative, and what was made of it."""

from __future__ import annotations

from contextlib import suppress
from typing import Final

from controller.enlarger.standing import InCarrier
from controller.errors import NotThere, Unreadable
from controller.model import Frozen
from controller.negatives.sets import KIND, Frame, NegativeSet, read_negatives, split_reference
from controller.recipe.files import read_recipe
from controller.recipe.recipe import Recipe
from controller.store.finding import A_PAGE, LONGEST_SEARCH, Finder
from controller.store.lookups import OF_THE_SHELF, Lookups
from controller.store.sessions import Outline, SheetLine
from controller.store.shelf import OfAKind, Shelf
from controller.store.versions import Kept
from controller.words import say

MOST_IN_A_LIFE: Final = 60
"""Sheets of one negative that are listed, the newest."""
LATELY_SETS: Final = 3
"""Of so many sets, the newest, a negative can be put into the carrier by one tap."""
_WANTED: Final = {"print": 0, "maybe": 1}
_FOUND_FRAMES: Final = 30
_MOST_DIGITS: Final = 19
_HIGHEST: Final = 1 << 62
_ANY_MS: Final = 900_000
"""The most that the longest light can be set to."""
_SET: Final = "id, day, place, title, film, frame_format, frames, prints, maybes, photograph"
BY_DAY: Final = (
    f"SELECT {', '.join(f's.{column}' for column in _SET.split(', '))} FROM negative_sets AS s"  # noqa: S608
    f" CROSS JOIN found AS f ON f.kind = '{KIND}' AND f.id = s.id"
    " WHERE f.away = ? AND (s.day, s.place) < (?, ?) ORDER BY s.day DESC, s.place DESC LIMIT ?"
)
ONE_SET: Final = f"SELECT {_SET} FROM negative_sets WHERE id = ?"  # noqa: S608
FRAMES: Final = (
    "SELECT n.set_id, n.of, n.frame, n.title, n.mark, n.look FROM negative_frames AS n"  # noqa: S608
    f" CROSS JOIN found AS f ON f.kind = '{KIND}' AND f.id = n.set_id"
    " WHERE n.number IN (SELECT rowid FROM negative_words WHERE negative_words MATCH ? ORDER BY rowid DESC LIMIT ?)"
    " AND f.away = ? ORDER BY n.number DESC"
)
SHEETS: Final = (
    "SELECT s.place, f.line FROM negative_sheets AS s CROSS JOIN found AS f ON f.kind = 'sheet' AND f.id = s.sheet"
    " WHERE s.negative = ? AND s.place < ? ORDER BY s.place DESC LIMIT ?"
)
LATER: Final = "SELECT place FROM negative_sheets WHERE negative = ? AND place > ? ORDER BY place LIMIT ?"


class SetLine(Frozen):
    """A set in a list."""

    id: str
    day: str
    place: int
    title: str
    film: str
    frame_format: str
    frames: int
    prints: int
    """Frames that are marked “print”."""
    maybes: int
    photograph: str


class FrameLine(Frozen):
    """A negative that was found by its own words."""

    set_id: str
    of: str
    """What its set is called."""
    frame: str
    title: str
    mark: str
    look: str


class SetsPage(Frozen):
    """Some of the sets, and where the next page begins."""

    sets: tuple[SetLine, ...]
    frames: tuple[FrameLine, ...] = ()
    """Negatives with the words that were sought, on the first page of a search."""
    more: str = ""
    behind: bool = False
    """What is looked through has not followed the whole shelf yet: there may be more."""


class SetKept(Frozen):
    """A set as it is kept."""

    id: str
    version: int
    latest: int
    negatives: NegativeSet
    away: bool


class Negative(Frozen):
    """One negative, and the set that it is of."""

    of: SetKept
    frame: Frame


class Life(Frozen):
    """What was made of a negative: some of its sheets, newest first, and the recipes that name it."""

    sheets: tuple[SheetLine, ...] = ()
    recipes: tuple[Kept, ...] = ()
    earlier: int | None = None
    """The place below which the sheets before these lie."""
    later: int | None = None
    """The place below which those after these lie; 0 is the newest, None where these are."""
    behind: bool = False
    """What they are found by has not followed everything yet: there may be more."""


class NegativeLists(OfAKind):
    """All that may be asked of negatives; nothing here changes them. Safe from any thread, as its parts are."""

    KINDS = (KIND,)

    def __init__(self, shelf: Shelf, lookups: Lookups) -> None:
        super().__init__(shelf)
        self._lookups = lookups
        self._finder = Finder(shelf, lookups)

    def page(self, words: str = "", *, below: str = "", limit: int = A_PAGE, away: bool = False) -> SetsPage:
        """Return some sets, by their days, the newest first; or those with all of these words, last saved first.

        `below` is the `more` of the page before.
        """
        whole = self._lookups.follow(*OF_THE_SHELF)
        words = words[:LONGEST_SEARCH].strip()
        if words:
            return self._searched(words, below, limit, away=away).model_copy(update={"behind": not whole})
        day, _, place = below.partition(".")
        under = (day, int(place)) if place.isdecimal() and len(place) < _MOST_DIGITS else ("9999", 0)
        rows = self._lookups.rows(BY_DAY, int(away), *under, limit + 1)
        lines = tuple(_line(row) for row in rows[:limit])
        more = f"{lines[-1].day}.{lines[-1].place}" if len(rows) > limit else ""
        return SetsPage(sets=lines, more=more, behind=not whole)

    def _searched(self, words: str, below: str, limit: int, *, away: bool) -> SetsPage:
        after = int(below) if below.isdecimal() and len(below) < _MOST_DIGITS else None
        found = self._lookups.find(words, KIND, after, limit + 1, away=away)
        frames = self._frames(words, away=away) if after is None else ()
        return SetsPage(
            sets=tuple(_line(row) for one in found[:limit] for row in self._lookups.rows(ONE_SET, one.id)[:1]),
            frames=frames,
            more=str(found[limit - 1].place) if len(found) > limit else "",
        )

    def _frames(self, words: str, *, away: bool) -> tuple[FrameLine, ...]:
        terms = [f'"{word}"*' for word in words.replace('"', " ").replace("\0", " ").split()]
        if not terms:
            return ()
        # at least one of the words is the negative's own, the others may be its set's
        wanted = f"own : ({' OR '.join(terms)}) AND {' AND '.join(terms)}"
        rows = self._lookups.rows(FRAMES, wanted, _FOUND_FRAMES, int(away))
        return tuple(FrameLine(**dict(zip(FrameLine.model_fields, row, strict=True))) for row in rows)

    def lately(self) -> tuple[InCarrier, ...]:
        """Return negatives to put into the carrier: of the newest sets those marked “print”, then “maybe”."""
        found = []
        for line in self.page(limit=LATELY_SETS).sets:
            with suppress(NotThere, Unreadable):
                one = self.fetch(line.id).negatives
                marked = [frame for frame in one.frames if frame.mark in _WANTED]
                found += [in_carrier(line.id, one, frame) for frame in sorted(marked, key=_by_mark)]
        return tuple(found)

    def fetch(self, source: str, version: int | None = None) -> SetKept:
        """Return a set, its latest version unless told.

        Raises:
            NotThere: no such set, or no such version of it, is kept.
            Unreadable: it was written by a newer version of this software.
        """
        _, last, away = self._shelf.stands(source)
        kept = last if version in (None, last.version) else self._shelf.get(source, version)
        if kept.kind != KIND:
            raise NotThere(say("store.nothing", id=source))
        negatives = read_negatives(kept.body, kept.title)
        return SetKept(id=kept.id, version=kept.version, latest=last.version, negatives=negatives, away=away)

    def negative(self, reference: str) -> Negative:
        """Return the negative that a reference names.

        Raises:
            NotThere: it is not kept.
            Unreadable: as `fetch`.
        """
        set_id, frame = split_reference(reference)
        kept = self.fetch(set_id)
        return Negative(of=kept, frame=kept.negatives.frame(frame))

    def life(self, reference: str, *, below: int = 0, limit: int = MOST_IN_A_LIFE) -> Life:
        """Return what was made of a negative: sheets that it stood in the carrier for, and recipes that name it.

        The newest `limit` sheets, or the next ones `below` a place.

        Raises:
            NotThere, Unreadable: as `negative`.
        """
        title = self.negative(reference).frame.title
        whole = self._lookups.follow()
        under = below if 0 < below <= _HIGHEST else _HIGHEST
        rows = self._lookups.rows(SHEETS, reference, under, limit + 1)
        shown = rows[:limit]
        sheets = tuple(Outline.model_validate_json(line).line for _, line in shown)
        newer = self._lookups.rows(LATER, reference, under - 1, limit + 1) if below else []
        later = None if not newer else newer[limit][0] if len(newer) > limit else 0
        return Life(
            sheets=sheets,
            recipes=self._recipes_of(title) if title else (),
            earlier=shown[-1][0] if len(rows) > limit else None,
            later=later,
            behind=not whole,
        )

    def _recipes_of(self, title: str) -> tuple[Kept, ...]:
        found = []
        for kept in self._finder.things("recipe", title).things:
            with suppress(Unreadable):  # of a newer version: its own page says so
                recipe = read_recipe(kept.body, kept.title, longest_ms=_ANY_MS)
                named = recipe.negative.name if isinstance(recipe, Recipe) and recipe.negative else ""
                if named.casefold() == title.casefold():
                    found.append(kept)
        return tuple(found)


def in_carrier(set_id: str, one: NegativeSet, frame: Frame) -> InCarrier:
    """Return a negative as it is put into the carrier; one without a title goes by its set and frame."""
    title = frame.title or say("negatives.of-set", set=one.set, frame=frame.frame)
    return InCarrier(negative=f"{set_id}:{frame.frame}", title=title[:200], format=one.frame_format or "")


def _by_mark(frame: Frame) -> int:
    return _WANTED[frame.mark or ""]


def _line(row: tuple[object, ...]) -> SetLine:
    return SetLine(**dict(zip(SetLine.model_fields, row, strict=True)))  # type: ignore[arg-type]
