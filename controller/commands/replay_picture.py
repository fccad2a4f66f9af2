"""The picture of a replayed sheet: what `treadle replay … --picture` writes beside what it prints."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Final

from controller.commands.replay import Played
from controller.errors import Impossible, Unreadable
from controller.files import read_start
from controller.paper.paper import read_paper
from controller.picture.contact_sheets import contact_sheet
from controller.picture.negatives import INVENTED, Negative
from controller.picture.practice_papers import PracticePaper, of_kept, practice_paper
from controller.picture.scene import PIXELS, Enlarger, negatives_named, scene_for
from controller.recipe.fields import LARGEST_BYTES
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip
from controller.words import say
from hardware.practice.log import Entry

if TYPE_CHECKING:
    from controller.picture.develop import Conditions, Developed

PAPERS: Final = ("one", "two")


def picture_of(args: Namespace, played: Played, recipe: Recipe | Strip) -> bytes:
    """Return the picture that `treadle replay --picture` was asked for, as a PNG.

    Raises:
        Impossible: a library is missing, or as `developed`.
        NotThere, Unreadable: as `read_negatives` and `read_practice_paper`.
    """
    if not all(find_spec(name) for name in ("numpy", "scipy", "PIL")):
        raise Impossible(say("picture.libraries"))
    negatives, paper = read_negatives(args.negative), read_practice_paper(args.paper)
    second = read_second(args.negative_b)
    return developed(played, recipe, negatives=negatives, second=second, paper=paper, sheet=args.sheet).png()


def developed(
    played: Played,
    recipe: Recipe | Strip,
    *,
    negatives: tuple[Negative, ...],
    paper: PracticePaper,
    second: Negative | None = None,
    sheet: int = 1,
    log: Iterable[Entry] = (),
    conditions: Conditions | None = None,
    enlarger: Enlarger | None = None,
    pixels: int = PIXELS,
) -> Developed:
    """Return a replayed sheet out of the tray; `log` is a practice log in the replay's own time, if there is one.

    `second` is the negative in carrier B, for a recipe that prints from two.

    Raises:
        Impossible: the trace gave no such sheet, or never closed it.
    """
    from controller.picture.develop import develop_sheet  # loads numpy

    record = next((each for each in played.records if each.number == sheet), None)
    if record is None:
        raise Impossible(say("picture.no-sheet", sheet=sheet, sheets=len(played.records)))
    scene = scene_for(recipe, negatives, enlarger=enlarger, second=second, pixels=pixels)
    return develop_sheet(record, log, scene, paper, conditions, edges=played.edges)


def read_negatives(name: str) -> tuple[Negative, ...]:
    """Return the invented negative of a short name, all of a contact sheet ("proof", "film"), or a file's picture.

    Raises:
        NotThere: it is neither a short name nor a file.
        Unreadable: the file is no picture, or too large for one.
    """
    path = Path(name)
    if name in INVENTED or contact_sheet(name) or not path.is_file():
        return negatives_named(name)
    from controller.picture.own import own_negative  # loads numpy
    from controller.unpack.unpacker import MOST_BYTES

    content = read_start(path, MOST_BYTES)
    if len(content) > MOST_BYTES:
        raise Unreadable(say("unpack.heavy", file=path.name, most=MOST_BYTES // 1_000_000))
    return (own_negative(content, path.name),)


def read_second(name: str) -> Negative:
    """Return the negative in carrier B, by its short name or out of a file; raises as `read_negatives`.

    Raises:
        Impossible: it is a whole contact sheet.
    """
    found = read_negatives(name)
    if len(found) != 1:
        raise Impossible(say("picture.negative-b-one", name=name))
    return found[0]


def read_practice_paper(name: str) -> PracticePaper:
    """Return the invented paper of a short name, or the calibrated one in a file.

    Raises:
        NotThere: it is neither a short name nor a file.
        Unreadable: the file is no paper.
    """
    path = Path(name)
    if name in PAPERS or not path.is_file():
        return practice_paper(name)
    return of_kept(read_paper(read_start(path, LARGEST_BYTES), path.name))
