"""The practice darkroom's tray: closed sheets become prints, which stay as they came out.

A print is developed once, when it is asked for, in the thread that asks; numpy and Pillow are loaded only then.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryFile
from typing import TYPE_CHECKING, BinaryIO, Final, Literal

from pydantic import ValidationError

from controller.errors import Impossible, NotThere, StoreTrouble, Unreadable
from controller.files import write_whole
from controller.model import Frozen
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import negatives_named, scene_for
from controller.practice.board import Easel, bare_scene, easel_of
from controller.practice.in_carrier import InCarrier, negative_of
from controller.practice.practice_scene import PracticeScene, keep_scene, read_scene
from controller.recipe.files import read_recipe
from controller.words import say
from hardware.clock import boot_id
from hardware.practice.log import FilterPlaced
from hardware.practice.practice_darkroom import PracticeDarkroom

if TYPE_CHECKING:
    from controller.foot.status import Status
    from controller.picture.develop import Developed
    from controller.picture.negatives import Negative
    from controller.picture.scene import Scene
    from controller.practice.in_carrier import Standing
    from controller.practice.stage import Stage
    from controller.recipe.plan import Plan
    from controller.recipe.recipe import Recipe
    from controller.recipe.strip import Strip
    from controller.store.records import SheetRecord
    from controller.store.versions import Kept
    from controller.unpack.unpacker import Unpacker

PIXELS: Final = 300_000
SMALL_EVERY: Final = 4
"""A small picture has every so manyth pixel, across and down."""
SCALE: Final = (0.10, 0.20, 0.35, 0.55, 0.80, 1.10, 1.45, 1.80)
"""Print densities of the grey scale beside a print, between its paper white and its full black."""
_OWN: Final = "own-picture"
_MOST_BOARDS: Final = 24

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


class PracticePrints:
    """Safe from any thread; one print is made at a time."""

    def __init__(
        self,
        room: PracticeDarkroom,
        folder: Path,
        record: Callable[[str], SheetRecord],
        fetch: Callable[[str, int], Kept],
        unpacker: Unpacker,
    ) -> None:
        self._room, self._folder, self._record, self._fetch = room, folder, record, fetch
        self._unpacker = unpacker
        self._lock = threading.Lock()
        self._boards: dict[tuple[object, ...], bytes] = {}
        self._read: tuple[tuple[str, int], Recipe | Strip | None] = (("", 0), None)
        self._easel: tuple[object, Easel] | None = None
        self._looked_at, self._turns = "", 0

    # ---- scene

    def scene(self) -> PracticeScene:
        """Return how the practice darkroom is set up."""
        return read_scene(self._folder)

    def keep_scene(self, scene: PracticeScene) -> None:
        """Keep how it is set up, for the sheets developed from now on.

        Raises:
            Impossible: a picture of one's own is chosen and none was given yet.
        """
        if scene.negative == "own" and not self.has_own():
            raise Impossible(say("practice.no-own"))
        keep_scene(self._folder, scene)

    def has_own(self) -> bool:
        """Tell whether a picture of the printer's own is kept."""
        return (self._folder / _OWN).is_file()

    def keep_own(self, file: BinaryIO, name: str) -> None:
        """Keep a picture, made small, as the negative "own", and choose it.

        Raises:
            Unreadable: it is no picture, or too large.
            Impossible: the libraries are not installed.
            StoreTrouble: it cannot be written.
            WrongMoment: another picture is being unpacked, or a sheet is open.
        """
        try:
            import numpy as np

            from controller.picture.own import FIT, SMALLEST_SIDE, kept_picture
        except ImportError:
            raise Impossible(say("picture.libraries")) from None
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            with TemporaryFile(dir=self._folder) as into:
                came = self._unpacker.unpack(file, name[-60:], FIT, into, least=SMALLEST_SIDE)
                into.seek(0)
                levels = np.frombuffer(into.read(), np.uint16).reshape(came.height, came.width)
            small = kept_picture(levels, deep=came.deep, turned=came.turned)
            write_whole(self._folder / _OWN, small)
        except OSError as problem:
            raise StoreTrouble(say("practice.print-not-kept", detail=problem.strerror)) from problem
        keep_scene(self._folder, self.scene().model_copy(update={"negative": "own"}))

    # ---- the baseboard

    def lies(self, status: Status) -> InCarrier:
        """Return which negative lies in the carrier, or which on the paper, as things stand now."""
        return self.negative_of(status.plan, getattr(status, "bench", None))

    def negative_of(self, plan: Plan | None, standing: Standing | None = None) -> InCarrier:
        """Return which negative a plan prints here; see `controller.practice.in_carrier`."""
        return negative_of(plan, self._written(plan), self.scene().negative, standing)

    def _written(self, plan: Plan | None) -> Recipe | Strip | None:
        """Return what a plan was made of; the last one is kept. None where it is a check, or gone."""
        if plan is None or plan.of_no_sheet:
            return None
        key = (plan.source, plan.version)
        if self._read[0] != key:
            found: Recipe | Strip | None = None
            with suppress(NotThere, Unreadable):
                kept = self._fetch(*key)
                found = read_recipe(kept.body, kept.title)
            self._read = (key, found)
        return self._read[1]

    def board_png(self, stage: Stage) -> bytes:
        """Return what falls on the baseboard, or would fall, while the lamp is lit.

        Raises:
            Impossible: the libraries are not installed.
        """
        key = (stage, self.scene(), self._own_mark())
        with self._lock:
            if key not in self._boards:
                try:
                    from controller.picture.baseboard import baseboard_png
                except ImportError:
                    raise Impossible(say("picture.libraries")) from None
                if len(self._boards) >= _MOST_BOARDS:
                    self._boards.clear()
                seen = self.scene_lying(stage.lies)
                self._boards[key] = baseboard_png(seen, stage.way(), bands=stage.bands, paper=stage.paper)
            return self._boards[key]

    def easel(self, lies: InCarrier) -> Easel:
        """Return the shape of the picture on the easel, and where the areas of the negative lie on it."""
        key = (lies, self.scene(), self._own_mark())
        with self._lock:
            if self._easel is None or self._easel[0] != key:
                self._easel = (key, easel_of(self.scene_lying(lies)))
            return self._easel[1]

    def scene_lying(self, lies: InCarrier) -> Scene:
        """Return the baseboard with this negative, without a sheet's own sizes; raises `Impossible` as `develop`."""
        chosen = self.scene()
        return bare_scene(self._negatives(chosen, lies), chosen, lies)

    def _own_mark(self) -> int:
        return (self._folder / _OWN).stat().st_mtime_ns if self.has_own() else 0

    # ---- the tray

    def made(self, sheet: str) -> Print | None:
        """Return the print of a sheet, or None where it is not developed.

        Raises:
            StoreTrouble: it cannot be read.
        """
        try:
            return Print.model_validate_json(self._place(sheet, ".json").read_bytes())
        except FileNotFoundError:
            return None
        except (OSError, ValidationError) as problem:
            raise StoreTrouble(say("practice.print-unreadable", sheet=sheet)) from problem

    def png(self, sheet: str, stand: WetOrDry) -> bytes:
        """Return the picture of a print.

        Raises:
            NotThere: it is not developed.
        """
        try:
            return self._place(sheet, f"-{stand}.png").read_bytes()
        except OSError:
            raise NotThere(say("practice.not-developed")) from None

    def develop(self, sheet: str) -> Print:
        """Develop a closed sheet in the scene as it stands; one that is developed stays as it is.

        Raises:
            Impossible: it is not closed, no sheet of a recipe or strip, or the libraries are not installed.
            StoreTrouble: the print cannot be kept.
        """
        with self._lock:
            if (before := self.made(sheet)) is not None:
                self._look_at(sheet)
                return before
            record = self._record(sheet)
            if record.plan.of_no_sheet or record.plan.flashes_sheets:
                raise Impossible(say("practice.not-paper"))
            chosen = self.scene()
            lies = self.negative_of(record.plan)
            out, fog = self._out_of_the_tray(record, chosen, lies)
            made = self._keep(record.id, chosen, lies, out, fog)
            self._look_at(sheet)
            return made

    def looked_at(self) -> str:
        """Return the sheet whose print came out of the trays last and is being looked at; empty where none is."""
        return self._looked_at

    def turns(self) -> int:
        """Return how often a print came to be looked at or was laid aside: a number that says whether to look again."""
        return self._turns

    def lay_aside(self) -> None:
        """Look at no print any more."""
        with self._lock:
            self._look_at("")

    def _look_at(self, sheet: str) -> None:
        self._looked_at = sheet
        self._turns += 1

    def _out_of_the_tray(self, record: SheetRecord, chosen: PracticeScene, lies: InCarrier) -> tuple[Developed, float]:
        """Return the developed sheet, and the density that its fog alone would have."""
        try:
            import numpy as np

            from controller.picture.develop import develop_light, sheet_light
            from controller.picture.tray import developed
        except ImportError:
            raise Impossible(say("picture.libraries")) from None
        kept = self._fetch(record.plan.source, record.plan.version)
        model = read_recipe(kept.body, kept.title)
        stand = chosen.enlarger().model_copy(update=lies.lens)
        negatives = self._negatives(chosen, lies)
        scene = scene_for(model, negatives, enlarger=stand, magnification=lies.magnification, pixels=PIXELS)
        scene = chosen.lens_on(scene)
        # the room's log says nothing of sheets of another boot
        here = record.closed is not None and record.closed.boot == boot_id()
        log, edges = (self._room.log(), self._room.edges()) if here else ((), None)
        if chosen.filter_left != "put":  # it stays in, whatever the log says
            log = tuple(entry for entry in log if not isinstance(entry, FilterPlaced))
        conditions = chosen.conditions([step.number for step in record.plan.steps])
        light, paper = sheet_light(record, log, conditions, edges), practice_paper(chosen.paper)
        blue, green = (np.full((1, 1), of, dtype=np.float32) for of in (light.fog.blue, light.fog.green))
        return develop_light(light, record, scene, paper), float(developed(blue, green, paper)[0][0, 0])

    def _keep(self, sheet: str, chosen: PracticeScene, lies: InCarrier, out: Developed, fog: float) -> Print:
        height, width = out.dry.shape
        made = Print(
            sheet=sheet,
            scene=chosen,
            negative=lies.title,
            paper=out.paper.title,
            width=width,
            height=height,
            dmin=out.paper.dmin,
            dmax=out.paper.dmax,
            fog=fog,
            swatches=tuple(
                Swatch(
                    tone=say(f"picture.tone-{each.tone.replace('_', '-')}"), density=float(each.density), band=each.band
                )
                for each in out.readings
            ),
            bands=tuple(BandBox(left=box.left, top=box.top, right=box.right, bottom=box.bottom) for box in out.bands),
        )
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            write_whole(self._place(sheet, "-dry.png"), out.png())
            write_whole(self._place(sheet, "-wet.png"), out.png(wet=True))
            write_whole(self._place(sheet, "-small.png"), out.png(every=SMALL_EVERY))
            write_whole(self._place(sheet, ".json"), made.model_dump_json(indent=1).encode())
        except OSError as problem:
            raise StoreTrouble(say("practice.print-not-kept", detail=problem.strerror)) from problem
        return made

    def _place(self, sheet: str, end: str) -> Path:
        if not sheet.replace("-", "").isalnum() or not sheet.isascii():
            raise NotThere(say("practice.not-developed"))
        return self._folder / f"print-{sheet}{end}"

    def _negatives(self, chosen: PracticeScene, lies: InCarrier) -> tuple[Negative, ...]:
        if lies.name != "own":
            return negatives_named(lies.name)
        from controller.picture.own import own_negative

        try:
            content = (self._folder / _OWN).read_bytes()
            name = say("practice.negative-own")
            return (own_negative(content, name, thin=chosen.own_thin, dense=chosen.own_dense),)
        except OSError:
            raise Impossible(say("practice.no-own")) from None
