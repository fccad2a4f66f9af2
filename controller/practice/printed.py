"""A practice print as it is kept: what it is of, what was read off it, and its pictures beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from pydantic import ValidationError

from controller.errors import NotThere, StoreTrouble
from controller.files import write_whole
from controller.model import Frozen
from controller.practice.practice_scene import PracticeScene
from controller.words import say

if TYPE_CHECKING:
    from pathlib import Path

    from controller.picture.develop import Developed
    from controller.picture.in_the_trays import Development

SMALL_EVERY: Final = 4
"""A small picture has every so manyth pixel, across and down."""
SCALE: Final = (0.10, 0.20, 0.35, 0.55, 0.80, 1.10, 1.45, 1.80)
"""Print densities of the grey scale beside a print, between its paper white and its full black."""

WetOrDry = Literal["dry", "wet", "small"]
"""How a print's picture is had; "small" is the dry one, as it hangs on the line."""


class Swatch(Frozen):
    """What was read off the print at one tone; `band` of a strip, from 1; `tone` in words."""

    tone: str
    density: float
    band: int | None = None


class BandBox(Frozen):
    """A band of a strip on its print, in pixels."""

    left: int
    top: int
    right: int
    bottom: int


class Print(Frozen):
    """A developed sheet; its pictures lie beside it."""

    sheet: str
    scene: PracticeScene
    negative: str = ""
    """What lay in the carrier, in words; empty in a print of an earlier version, whose scene says it."""
    paper: str
    width: int
    height: int
    dmin: float
    dmax: float
    fog: float
    """Density that the light beside the enlarger's picture alone would have given: paper white where all was well."""
    swatches: tuple[Swatch, ...]
    bands: tuple[BandBox, ...] = ()
    developer_s: float | None = None
    """How long it lay in the developer; None where nobody followed it."""
    share: float = 1.0
    """How much of its density that brought."""
    developer_fog: float = 0.0
    """Density that the developer brought where the paper should be white."""


def print_of(sheet: str, chosen: PracticeScene, negative: str, out: Developed, fog: float, of: Development) -> Print:
    """Return what is kept of a sheet that came `out` of the trays, developed as `of` says."""
    height, width = out.dry.shape
    return Print(
        sheet=sheet,
        scene=chosen,
        negative=negative,
        paper=out.paper.title,
        width=width,
        height=height,
        dmin=out.paper.dmin,
        dmax=out.paper.dmax,
        fog=fog,
        swatches=tuple(
            Swatch(tone=say(f"picture.tone-{each.tone.replace('_', '-')}"), density=float(each.density), band=each.band)
            for each in out.readings
        ),
        bands=tuple(BandBox(left=box.left, top=box.top, right=box.right, bottom=box.bottom) for box in out.bands),
        developer_s=of.seconds,
        share=of.share,
        developer_fog=of.fog,
    )


def keep_print(folder: Path, made: Print, out: Developed) -> None:
    """Keep a print with its pictures; what is kept last makes it one. Raises `StoreTrouble`."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_whole(_place(folder, made.sheet, "-dry.png"), out.png())
        write_whole(_place(folder, made.sheet, "-wet.png"), out.png(wet=True))
        write_whole(_place(folder, made.sheet, "-small.png"), out.png(every=SMALL_EVERY))
        write_whole(_place(folder, made.sheet, ".json"), made.model_dump_json(indent=1).encode())
    except OSError as problem:
        raise StoreTrouble(say("practice.print-not-kept", detail=problem.strerror)) from problem


def kept_print(folder: Path, sheet: str) -> Print | None:
    """Return the print of a sheet, or None where there is none. Raises `StoreTrouble`: it cannot be read."""
    try:
        return Print.model_validate_json(_place(folder, sheet, ".json").read_bytes())
    except FileNotFoundError:
        return None
    except (OSError, ValidationError) as problem:
        raise StoreTrouble(say("practice.print-unreadable", sheet=sheet)) from problem


def kept_picture(folder: Path, sheet: str, stand: WetOrDry) -> bytes:
    """Return the picture of a print. Raises `NotThere`: it is not developed."""
    try:
        return _place(folder, sheet, f"-{stand}.png").read_bytes()
    except OSError:
        raise NotThere(say("practice.not-developed")) from None


def _place(folder: Path, sheet: str, end: str) -> Path:
    if not sheet.replace("-", "").isalnum() or not sheet.isascii():
        raise NotThere(say("practice.not-developed"))
    return folder / f"print-{sheet}{end}"
