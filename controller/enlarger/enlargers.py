"""Enlargers, each with its own figures: `treadle/enlarger/1`, read, refused in a sentence, and written back.

Whoever has two of them chooses which one is worked, and has its figures with it; nothing is typed again.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from contextlib import suppress
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final, Literal

from controller.enlarger import column
from controller.enlarger.first_strip import centre_ms, factor
from controller.errors import Impossible
from controller.exposure.stops import parse_more_stops
from controller.keeping import Keeps, ThingKind
from controller.model import Frozen
from controller.recipe import versioned
from controller.recipe.fields import (
    Aperture,
    Callier,
    ColumnOffset,
    FilterName,
    HeadHeight,
    LagSeconds,
    Magnification,
    Millimetres,
    Seconds,
    Words,
)
from controller.recipe.versioned import PlaceNames, VersionedForm
from controller.store.entries import ENLARGER_ROWS
from controller.words import say

if TYPE_CHECKING:
    from controller.recipe.at_enlarger import AtEnlarger
    from controller.recipe.recipe import Recipe
    from controller.recipe.strip import Strip

ENLARGER: Final = "treadle/enlarger/1"
KIND: Final = "enlarger"
CONTRADICTS: Final = 0.01
"""Share by which height and magnification of one set-up may differ, as the column has them."""
"""Of a thing on the shelf."""


class ProofStandard(Frozen):
    """The light of this printer's contact proofs: the least at which the film's clear edge merges with bare paper."""

    seconds: Seconds
    filter: FilterName
    head_height_mm: HeadHeight | None = None
    magnification: Magnification | None = None
    aperture: Aperture
    paper: Words
    """Id on the shelf, or the paper's name where it is not there."""
    box: Words | None = None
    date: date
    """The day it was found."""


class Enlarger(Frozen):
    """What is known of an enlarger. Lengths in mm."""

    format: Literal["treadle/enlarger/1"] = ENLARGER
    name: Words
    lamp: Words | None = None
    """What lamp is in it, in the printer's words."""
    light_source: Literal["diffuser", "condenser"]
    callier: Callier | None = None
    """How much more contrast its light gives than a densitometer reads: 1 for a full diffuser."""
    focal_mm: Millimetres | None = None
    """Of the lens that is in it as a rule."""
    column_offset_mm: ColumnOffset | None = None
    """What the column's scale lacks of the distance from negative to easel."""
    lag_seconds: LagSeconds | None = None
    """What one switching of its lamp loses, the relay's part left out: as the setting has it."""
    proof: ProofStandard | None = None

    def magnification_at(self, head_height_mm: float) -> float | None:
        """Return the magnification at a reading of the column, by `column.magnification_at`.

        None where focal length or offset is not known, or the head stands too low for a sharp image.
        """
        if self.focal_mm is None or self.column_offset_mm is None:
            return None
        with suppress(Impossible):
            return column.magnification_at(Fraction(self.focal_mm), Fraction(self.column_offset_mm), head_height_mm)
        return None


def column_offset_mm(focal_mm: float, magnification: float, head_height_mm: float) -> float:
    """Return the offset of a column's scale, from one known pair of reading and magnification, to 0.1 mm.

    Raises:
        Impossible: the magnification is under 1.
    """
    return round(float(column.offset_mm(focal_mm, magnification, head_height_mm)), 1)


def contradicts(
    enlarger: Enlarger, focal_mm: float | None, head_height_mm: float | None, magnification: float | None
) -> float | None:
    """Return what magnification the column has at a height, where that is over 1 % off the one that was said.

    None where they agree, or where nothing is known of the column with this lens.
    """
    if focal_mm is None or head_height_mm is None or magnification is None or enlarger.focal_mm is None:
        return None
    if abs(float(enlarger.focal_mm) - focal_mm) > CONTRADICTS * focal_mm:
        return None  # another lens
    told = enlarger.magnification_at(head_height_mm)
    return told if told is not None and abs(magnification - told) > CONTRADICTS * told else None


def must_agree(written: Recipe | Strip, enlargers: Iterable[Enlarger]) -> None:
    """Let a recipe or strip pass whose height and magnification no column contradicts; one that agrees is enough.

    Raises:
        Impossible: the sentence says what the column has at that height, and what would do.
    """
    lens, height, said = written.lens, written.head_height_mm, written.magnification
    if lens is None or lens.focal_mm is None or height is None or said is None:
        return
    focal = float(lens.focal_mm)
    off: list[float] = []
    for enlarger in enlargers:
        same_lens = enlarger.focal_mm is not None and abs(float(enlarger.focal_mm) - focal) <= CONTRADICTS * focal
        if not same_lens or enlarger.magnification_at(float(height)) is None:
            continue
        told = contradicts(enlarger, focal, float(height), float(said))
        if told is None:
            return
        off.append(told)
    if off:
        words = {
            "height": f"{height.normalize():f}",
            "focal": f"{focal:g}",
            "told": f"{off[0]:.2f}",
            "said": f"{said:f}",
        }
        raise Impossible(say("enlarger.contradict-recipe", **words), ("magnification",))


def read_enlarger(text: str | bytes, name: str) -> Enlarger:
    """Return the enlarger that a file holds; `name` is the file's, for the refusal.

    Raises:
        Unreadable: one sentence with the file, the key and the remedy.
    """
    return versioned.read(text, name, _FORM)


def read_tree(tree: object, name: str, place_names: PlaceNames | None = None) -> Enlarger:
    """Return the enlarger in a tree of plain values, as a page's form fills it.

    Raises:
        Unreadable: as `read_enlarger`.
    """
    return versioned.read_tree(tree, name, _FORM, place_names=place_names)


def write_enlarger(enlarger: Enlarger) -> str:
    """Return the file of an enlarger; `read_enlarger` reads the same enlarger from it."""
    known: dict[str, Any] = enlarger.model_dump(mode="json", exclude_none=True)
    return json.dumps(known, ensure_ascii=False, indent=2) + "\n"


def upgrade(tree: dict[str, Any]) -> dict[str, Any]:
    """Return an enlarger's tree in today's form. There is one form so far, so it is returned as it is."""
    return tree


_FORM: Final = VersionedForm(ENLARGER, Enlarger, upgrade, typed=True)
_SPOKEN: Final = frozenset({"name", "lamp"})


def _title(text: str, name: str) -> str:
    return read_enlarger(text, name).name


def _words(body: str) -> str:
    return " ".join(versioned.words_under(_SPOKEN, body))


KEEPS: Final = Keeps(
    room="enlarger",
    things=(ThingKind(KIND, "enlargers", ENLARGER, _title, _words),),
    rows=ENLARGER_ROWS,
)


def estimate_ms(bench: AtEnlarger, enlarger: Enlarger | None, look: str, k: float) -> int | None:
    """Return where a first strip's middle band is, in ms; None without a standard, or a magnification of either."""
    proof = enlarger.proof if enlarger else None
    if enlarger is None or proof is None or bench.magnification is None:
        return None
    height = None if proof.head_height_mm is None else enlarger.magnification_at(float(proof.head_height_mm))
    at_proof = float(proof.magnification) if proof.magnification is not None else height
    if at_proof is None:
        return None
    with suppress(Impossible):
        return centre_ms(
            round(proof.seconds * 1000),
            factor(
                proof_magnification=Fraction(str(at_proof)),
                magnification=Fraction(str(bench.magnification)),
                proof_aperture=float(proof.aperture),
                aperture=bench.aperture,
                look=_stops(look),
                k=k,
            ),
        )
    return None


def _stops(look: str) -> Fraction:
    bare = look.strip().replace("−", "-")
    if bare in ("", "0"):
        return Fraction(0)
    sign = -1 if bare.startswith("-") else 1
    return sign * parse_more_stops(bare.lstrip("+-"))
