"""The practice darkroom's tray: closed sheets become prints, which stay as they came out.

A print is developed once, when it is asked for, in the thread that asks; numpy and Pillow are loaded only then.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection
from contextlib import suppress
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryFile
from typing import TYPE_CHECKING, BinaryIO, Final

from controller.errors import ControllerError, Impossible, NotThere, StoreTrouble, Unreadable, WrongMoment
from controller.files import write_whole
from controller.picture.frames import image_box
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import negatives_named, scene_for
from controller.practice.board import Easel, bare_scene, easel_of
from controller.practice.in_carrier import InCarrier, negative_of
from controller.practice.practice_scene import PracticeScene, keep_scene, read_scene
from controller.practice.printed import Print, WetOrDry, keep_print, kept_picture, kept_print, print_of
from controller.recipe.files import read_recipe
from controller.recipe.strip import plain_strip
from controller.words import say
from hardware.clock import boot_id
from hardware.practice.log import FilterPlaced
from hardware.practice.practice_darkroom import PracticeDarkroom

if TYPE_CHECKING:
    from controller.foot.status import Status
    from controller.negatives.on_proof import XY
    from controller.picture.develop import Developed
    from controller.picture.in_the_trays import Development
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
COMING: Final = 12_000
"""Of a print that comes up in the developer: it is drawn a few centimetres wide."""
_OWN: Final = "own-picture"
_MOST_BOARDS: Final = 24


class PracticePrints:
    """Safe from any thread; one print is made at a time."""

    def __init__(
        self,
        room: PracticeDarkroom,
        folder: Path,
        record: Callable[[str], SheetRecord],
        fetch: Callable[[str, int], Kept],
        unpacker: Unpacker,
        followed: Callable[[], Collection[int]] = frozenset,
        settle: Callable[[], object] = lambda: None,
    ) -> None:
        """`followed` gives the numbers of the sheets on their way to the fix; `settle` is called for a kept scene."""
        self._followed, self._settle = followed, settle
        self._room, self._folder, self._record, self._fetch = room, folder, record, fetch
        self._unpacker = unpacker
        self._lock = threading.Lock()
        self._boards: dict[tuple[object, ...], bytes] = {}
        self._read: tuple[tuple[str, int], Recipe | Strip | None] = (("", 0), None)
        self._easel: tuple[object, Easel] | None = None
        self._looked_at, self._turns = "", 0
        self._coming: tuple[object, bytes] | None = None

    # ---- scene

    def scene(self) -> PracticeScene:
        """Return how the practice darkroom is set up."""
        return read_scene(self._folder)

    def keep_scene(self, scene: PracticeScene) -> None:
        """Keep how it is set up, for the sheets developed from now on.

        Raises:
            Impossible: a picture of one's own is chosen and none was given yet.
        """
        if "own" in (scene.negative, scene.second) and not self.has_own():
            raise Impossible(say("practice.no-own"))
        keep_scene(self._folder, scene)
        self._settle()

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

    def can_be_seen(self) -> bool:
        """Tell whether the libraries that pictures are drawn with are installed; none is loaded to know it."""
        return all(find_spec(name) is not None for name in ("numpy", "PIL"))

    def lies(self, status: Status) -> InCarrier:
        """Return which negative lies in the carrier, or which on the paper, as things stand now."""
        return self.negative_of(status.plan, getattr(status, "bench", None))

    def negative_of(self, plan: Plan | None, standing: Standing | None = None) -> InCarrier:
        """Return which negative a plan prints here; see `controller.practice.in_carrier`."""
        chosen = self.scene()
        return negative_of(plan, self._written(plan), chosen.negative, standing, chosen.second)

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
        return bare_scene(self._negatives(chosen, lies), chosen, lies, self._second(chosen, lies))

    def _own_mark(self) -> int:
        return (self._folder / _OWN).stat().st_mtime_ns if self.has_own() else 0

    # ---- the tray

    def made(self, sheet: str) -> Print | None:
        """Return the print of a sheet, or None where it is not developed.

        Raises:
            StoreTrouble: it cannot be read.
        """
        return kept_print(self._folder, sheet)

    def png(self, sheet: str, stand: WetOrDry) -> bytes:
        """Return the picture of a print.

        Raises:
            NotThere: it is not developed.
        """
        return kept_picture(self._folder, sheet, stand)

    def develop(self, sheet: str) -> Print:
        """Develop a closed sheet in the scene as it stands; one that is developed stays as it is.

        Raises:
            Impossible: it is not closed, no sheet of a recipe or strip, or the libraries are not installed.
            WrongMoment: it is on its way through the trays, and not in the fix yet.
            StoreTrouble: the print cannot be kept.
        """
        with self._lock:
            if (before := self.made(sheet)) is not None:
                self._look_at(sheet)
                return before
            record = self._record(sheet)
            if record.plan.of_no_sheet or record.plan.flashes_sheets:
                raise Impossible(say("practice.not-paper"))
            if record.number in self._followed():
                raise WrongMoment(say("practice.in-the-trays", number=record.number))
            chosen = self.scene()
            lies = self.negative_of(record.plan)
            out, fog, development = self._out_of_the_tray(record, chosen, lies)
            made = print_of(record.id, chosen, lies.title, out, fog, development)
            keep_print(self._folder, made, out)
            self._look_at(sheet)
            return made

    def image_on(self, record: SheetRecord, made: Print) -> tuple[XY, XY, XY, XY] | None:
        """Return where the image has its corners on a print's picture, as shares; None where it cannot be told."""
        written = self._written(record.plan)
        if written is None:
            return None
        was = made.scene
        lies = negative_of(record.plan, written, was.negative, None, was.second)
        with suppress(ControllerError):
            negatives = self._negatives(was, lies)
            stand = was.enlarger().model_copy(update=lies.lens)
            scene = scene_for(written, negatives, enlarger=stand, magnification=lies.magnification, pixels=PIXELS)
            high, wide = scene.shape
            left, top, right, bottom = image_box(scene)
            across, down = (left / wide, right / wide), (top / high, bottom / high)
            return (across[0], down[0]), (across[1], down[0]), (across[1], down[1]), (across[0], down[1])
        return None

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

    def coming(self, sheet: str) -> bytes:
        """Return a small picture of what a sheet in the trays will be, fully developed, as a PNG; the last one is kept.

        Raises:
            Impossible: as `develop`.
        """
        with self._lock:
            key = (sheet, self.scene(), self._own_mark())
            if self._coming is None or self._coming[0] != key:
                record, chosen = self._record(sheet), self.scene()
                out, *_ = self._out_of_the_tray(record, chosen, self.negative_of(record.plan), pixels=COMING, full=True)
                self._coming = (key, out.png(wet=True))
            return self._coming[1]

    def _out_of_the_tray(
        self, record: SheetRecord, chosen: PracticeScene, lies: InCarrier, *, pixels: int = PIXELS, full: bool = False
    ) -> tuple[Developed, float, Development]:
        """Return the developed sheet, the density that fog by light alone would have, and how it was developed."""
        try:
            import numpy as np

            from controller.picture.develop import develop_light, sheet_light
            from controller.picture.fog_strips import exposed, fog_sheet
            from controller.picture.in_the_trays import FULL, development_of
            from controller.picture.tray import developed
        except ImportError:
            raise Impossible(say("picture.libraries")) from None
        model = self._model(record.plan)
        stand = chosen.enlarger().model_copy(update=lies.lens)
        negatives = self._negatives(chosen, lies)
        second, size = self._second(chosen, lies), lies.magnification
        scene = scene_for(model, negatives, enlarger=stand, magnification=size, second=second, pixels=pixels)
        scene = chosen.lens_on(scene)
        # the room's log says nothing of sheets of another boot
        here = record.closed is not None and record.closed.boot == boot_id()
        log, edges = (self._room.log(), self._room.edges()) if here else ((), None)
        if chosen.filter_left != "put":  # it stays in, whatever the log says
            log = tuple(entry for entry in log if not isinstance(entry, FilterPlaced))
        conditions = chosen.conditions([step.number for step in record.plan.steps])
        paper = practice_paper(chosen.paper)
        by = FULL if full else development_of(record.trays, paper.support, conditions.developer)
        if record.plan.waits:
            strips = exposed(record, log, conditions, scene, chosen.phone_page, edges)
            out = fog_sheet(strips, scene, paper, by)
            return out, out.density("strip-3-7"), by
        light = sheet_light(record, log, conditions, edges)
        blue, green = (np.full((1, 1), of, dtype=np.float32) for of in (light.fog.blue, light.fog.green))
        return develop_light(light, record, scene, paper, by), float(developed(blue, green, paper)[0][0, 0]), by

    def _model(self, plan: Plan) -> Recipe | Strip:
        """Return what a sheet was made of; a test's plan is on no shelf, and says of the set-up what it needs."""
        if plan.test:
            return plain_strip(plan.title, plan.steps[0].filter, plan.aperture)
        kept = self._fetch(plan.source, plan.version)
        return read_recipe(kept.body, kept.title)

    def _negatives(self, chosen: PracticeScene, lies: InCarrier) -> tuple[Negative, ...]:
        return negatives_named(lies.name) if lies.name != "own" else (self._own(chosen),)

    def _second(self, chosen: PracticeScene, lies: InCarrier) -> Negative | None:
        """Return the negative in carrier B; None where it holds none, or is not used."""
        if lies.second in ("", "none"):
            return None
        return negatives_named(lies.second)[0] if lies.second != "own" else self._own(chosen)

    def _own(self, chosen: PracticeScene) -> Negative:
        from controller.picture.own import own_negative

        try:
            content = (self._folder / _OWN).read_bytes()
            name = say("practice.negative-own")
            return own_negative(content, name, thin=chosen.own_thin, dense=chosen.own_dense)
        except OSError:
            raise Impossible(say("practice.no-own")) from None
