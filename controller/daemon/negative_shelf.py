"""Sets of negatives on the shelf: made in one act, marked by single taps, photographed, listed and searched."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import date
from typing import Any, BinaryIO, Final

from controller.daemon.negative_lists import NegativeLists
from controller.daemon.photographs import SCAN, Photographs
from controller.errors import KeeperGone, NotThere, Unreadable
from controller.model import Frozen
from controller.negatives import layouts
from controller.negatives.sets import (
    CORNERS,
    KIND,
    MARKS,
    MOST_AREAS,
    KnownTone,
    NegativeSet,
    Scan,
    read_negatives,
    read_tree,
    reference,
    write_negatives,
)
from controller.recipe.fields import LARGEST_BYTES
from controller.recipe.model_schema import Tree
from controller.recipe.outline import Outline
from controller.recipe.versioned import PlaceNames
from controller.store.entries import Photographed
from controller.store.lookups import Lookups
from controller.store.shelf import Shelf
from controller.store.versions import Kept
from controller.words import say


class Proposal(Frozen):
    """What the next set is made of, unless something else is said."""

    name: str
    day: date
    film: str = ""
    frame_format: str = ""
    development: str = ""
    rows: int = 0
    columns: int = 0
    count: int = 0
    """0 where they are not known."""
    first: str = layouts.FIRST


class NegativeShelf(NegativeLists):
    """What pages may do with negatives. Safe from any thread."""

    def __init__(self, shelf: Shelf, lookups: Lookups, photographs: Photographs) -> None:
        super().__init__(shelf, lookups)
        self._photographs = photographs
        self._changing = threading.Lock()

    # ---- making and changing

    def proposal(self, today: date) -> Proposal:
        """Return what the next set is made of as far as the last one tells: its film, format and development."""
        last = next(iter(self._shelf.latest(KIND, limit=1)), None)
        name = layouts.next_name(last.title if last else "", today, lambda name: bool(self._shelf.called(KIND, name)))
        with suppress(Unreadable):
            if last is not None:
                like = read_negatives(last.body, last.title)
                return Proposal(
                    name=name,
                    day=today,
                    film=like.film or "",
                    frame_format=like.frame_format or "",
                    development=like.development or "",
                    rows=like.rows or 0,
                    columns=like.columns or 0,
                    count=len(like.frames) if like.rows else 0,
                    first=layouts.first_of([one.frame for one in like.frames]),
                )
        return Proposal(name=name, day=today)

    def make(self, tree: Tree, place_names: PlaceNames | None = None) -> Kept:
        """Keep a set from a tree of plain values, as its file has them.

        Raises:
            Unreadable: with the sentence for the page, and where in the tree; nothing is kept.
            StoreTrouble: it could not be written; nothing is kept.
        """
        made = read_tree(tree, say("foot.typed-here"), place_names)
        return self._shelf.save(KIND, made.set, _fitting(made))

    def change(self, source: str, tree: Tree, place_names: PlaceNames | None = None) -> Kept:
        """Keep a set with other facts and frames; a frame that it has already keeps its title, mark, look and notes.

        Raises:
            NotThere: no such set is kept.
            Unreadable, StoreTrouble: as `make`.
        """
        asked = read_tree(tree, say("foot.typed-here"), place_names)

        def facts(have: Tree) -> Tree:
            known = {one["frame"]: one for one in have["frames"]}
            said: Tree = json.loads(write_negatives(asked))
            said["frames"] = [known.get(one["frame"], one) for one in said["frames"]]
            if "proof" in have:
                said["proof"] = have["proof"]
            return said

        return self._change(source, facts)

    def mark(self, source: str, frame: str, mark: str) -> Kept:
        """Keep what a pencil says of a frame: one of `MARKS`, or nothing, which rubs it out.

        Raises:
            NotThere: no such set or frame is kept.
            Unreadable: there is no such mark; nothing is kept.
            StoreTrouble: it could not be written; nothing is kept.
        """
        if mark and mark not in MARKS:
            raise Unreadable(say("negatives.no-mark", found=mark[:20]))
        return self._change_frame(source, frame, {"mark": mark})

    def look(self, source: str, frame: str, look: str) -> Kept:
        """Keep how a frame stands on the proof: one of `LOOKS`, or nothing; raises as `mark`."""
        return self._change_frame(source, frame, {"look": look})

    def rub_out(self, source: str, frame: str) -> Kept:
        """Rub a frame's mark and look out; raises as `mark`."""
        return self._change_frame(source, frame, {"mark": "", "look": ""})

    def write(self, source: str, frame: str, title: str, notes: str, place_names: PlaceNames | None = None) -> Kept:
        """Keep a frame's title and notes; empty is none. Raises as `mark`."""
        return self._change_frame(source, frame, {"title": title, "notes": notes}, place_names)

    def _change_frame(
        self, source: str, frame: str, changes: dict[str, Any], place_names: PlaceNames | None = None
    ) -> Kept:
        def changed(have: Tree) -> Tree:
            one = next((one for one in have["frames"] if one["frame"] == frame), None)
            if one is None:
                raise NotThere(say("negatives.no-frame", set=have["set"], frame=frame[:20]))
            one |= changes
            for key in [key for key in changes if not changes[key]]:
                del one[key]
            return have

        return self._change(source, changed, place_names)

    def _change(self, source: str, change: Callable[[Tree], Tree], place_names: PlaceNames | None = None) -> Kept:
        """Keep what a change makes of a set's tree of plain values, which it may change in place."""
        with self._changing:
            tree = change(json.loads(write_negatives(self.fetch(source).negatives)))
            after = read_tree(tree, say("foot.typed-here"), place_names)
            return self._shelf.save(KIND, after.set, _fitting(after), source)

    # ---- the photograph of the proof

    def photograph(self, source: str, file: BinaryIO, name: str) -> Kept:
        """Keep a photograph of a set's proof, made small; the corners that were set on an earlier one are forgotten.

        Raises:
            NotThere: no such set is kept.
            Unreadable, Impossible, WrongMoment, StoreTrouble: as `Photographs.taken_in`; nothing is kept.
        """
        self.fetch(source)
        with self._photographs.taken_in(file, name) as (picture, _):
            kept = self._change(source, lambda have: have | {"proof": {"photograph": picture}})
        with suppress(KeeperGone):  # the set names it already, and the row follows
            self._photographs.file(Photographed(hash=picture, of="proof", thing=source))
        return kept

    def corner(self, source: str, which: str, x: float, y: float) -> Kept:
        """Keep where one of the corners of the frames' field lies on the photograph, as shares of it.

        Raises:
            NotThere: no such set is kept, or it has no photograph.
            Unreadable: there is no such corner, or it folds the field; nothing is kept.
        """

        def changed(have: Tree) -> Tree:
            corners = [list(one) for one in _proof_of(have).get("corners", _WHOLE)]
            if which not in CORNERS:
                raise NotThere(say("negatives.no-corner"))
            corners[CORNERS.index(which)] = [round(min(1.0, max(0.0, at)), 4) for at in (x, y)]
            have["proof"]["corners"] = corners
            return have

        return self._change(source, changed)

    def whole_picture(self, source: str) -> Kept:
        """Forget the corners: the photograph shows the frames' field from edge to edge. Raises `NotThere`."""

        def changed(have: Tree) -> Tree:
            _proof_of(have).pop("corners", None)
            return have

        return self._change(source, changed)

    # ---- the scan of a frame

    def keep_scan(self, source: str, frame: str, file: BinaryIO, name: str, how: str) -> Kept:
        """Keep a frame's scan, made small; what was tapped on an earlier one is forgotten.

        `how` is "flatbed" or "light table". Raises as `photograph`; `NotThere` also where there is no such frame.
        """
        self.fetch(source).negatives.frame(frame)
        with self._photographs.taken_in(file, name, size=SCAN) as (picture, _):
            kept = self._change_frame(source, frame, {"scan": {"photograph": picture, "how": how}})
        with suppress(KeeperGone):  # as of a proof
            self._photographs.file(Photographed(hash=picture, of="frame", thing=reference(source, frame)))
        return kept

    def tie(self, source: str, frame: str, tones: Sequence[KnownTone]) -> Kept:
        """Keep what is known of a frame's scan, in place of what was; raises as `mark`."""
        scan = self.fetch(source).negatives.frame(frame).scan
        if scan is None:
            raise NotThere(say("preview.no-scan"))
        changed = Scan(photograph=scan.photograph, how=scan.how, tones=tuple(tones))
        return self._change_frame(source, frame, {"scan": changed.model_dump(mode="json", exclude_none=True)})

    # ---- the areas of a frame

    def draw(self, source: str, frame: str, outline: Outline) -> Kept:
        """Keep an area's outline, in place of the one of its letter.

        Raises:
            NotThere: no such set or frame is kept.
            Unreadable: these are more areas than a frame has, or more than a set's file holds; nothing is kept.
            StoreTrouble: it could not be written; nothing is kept.
        """
        return self._areas(source, frame, outline.letter, outline)

    def rub_area(self, source: str, frame: str, letter: str) -> Kept:
        """Forget the outline of an area; raises as `draw`."""
        return self._areas(source, frame, letter, None)

    def _areas(self, source: str, frame: str, letter: str, outline: Outline | None) -> Kept:
        have = self.fetch(source).negatives.frame(frame).areas or ()
        kept = [each for each in have if each.letter != letter] + ([outline] if outline is not None else [])
        if len(kept) > MOST_AREAS:
            raise Unreadable(say("negatives.many-areas", most=MOST_AREAS))
        kept.sort(key=lambda each: each.letter)
        return self._change_frame(source, frame, {"areas": [each.model_dump(mode="json") for each in kept]})


def _fitting(made: NegativeSet) -> str:
    """Return the file of a set that may be read again; raises `Unreadable` where it would be too large for that."""
    text = write_negatives(made)
    if len(text.encode()) > LARGEST_BYTES:
        raise Unreadable(say("negatives.too-large", set=made.set, most=LARGEST_BYTES // 1024))
    return text


_WHOLE: Final[tuple[tuple[float, float], ...]] = ((0, 0), (1, 0), (1, 1), (0, 1))


def _proof_of(have: Tree) -> Tree:
    if "proof" not in have:
        raise NotThere(say("negatives.no-photo", set=have["set"]))
    proof: Tree = have["proof"]
    return proof
