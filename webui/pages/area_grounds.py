"""What areas are drawn on, and where they are then kept: a sheet's print, or the scan and the preview of a negative."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol
from urllib.parse import urlencode

from controller.errors import ControllerError, NotThere
from controller.negatives.on_proof import WHOLE, XY, Onto
from controller.negatives.sets import MOST_AREAS, reference
from controller.words import say
from webui.frame.context import desk
from webui.pictures import Picture, map_picture

if TYPE_CHECKING:
    from controller.daemon.preview_desk import Preview
    from controller.recipe.outline import Outline
    from controller.store.records import SheetRecord


@dataclass(frozen=True)
class Canvas:
    """What is drawn on, and what is drawn there; outlines are shares of the image, corners those of the picture."""

    home: str
    title: str
    picture: str
    """Its address; empty where there is none."""
    size: tuple[int, int] | None
    corners: tuple[XY, ...]
    outlines: dict[str, tuple[XY, ...]]
    own: frozenset[str]
    """Letters of outlines that somebody drew, and that can be rubbed out."""
    wanted: tuple[str, ...]
    """Letters of areas that the recipe works on and nobody has drawn."""
    more: bool
    """Areas of which no recipe speaks may be drawn too."""
    back: tuple[str, str]
    """Where the page leads to when all is done: an address, and its words."""
    asks_corners: bool = False
    """It is a photograph on which nobody has told where the image lies."""
    moves_corners: bool = False


class Ground(Protocol):
    """Where areas are drawn and kept."""

    def canvas(self) -> Canvas:
        """Return how it stands now."""

    def keep(self, outlines: Sequence[Outline]) -> str:
        """Keep outlines; return the address that this leads to."""

    def waits(self, letter: str) -> bool:
        """Tell whether an outline waits for the others of its recipe, which are kept with it."""

    def rub(self, letter: str) -> None:
        """Rub an outline out."""


class OnFrame:
    """The scan of a frame, or its print as it is seen before its paper."""

    def __init__(self, source: str, frame: str) -> None:
        self._source, self._frame = source, frame
        self._found = desk().negatives().negative(reference(source, frame))
        self._seen = self._preview()
        recipe = self._seen.recipe if self._seen else ""
        self._letters = desk().previews().maps.drawn(recipe) if recipe else {}

    def _preview(self) -> Preview | None:
        """Return what the print rests on, where it can be seen already: it is what is drawn on then."""
        try:
            return desk().previews().preview(self._source, self._frame)
        except NotThere:
            raise
        except ControllerError:
            return None

    def canvas(self) -> Canvas:
        """Return how it stands now."""
        scan, frame, seen = self._found.frame.scan, self._found.frame, self._seen
        base = f"/negatives/{self._source}/frame/{self._frame}"
        picture = f"/photographs/{scan.photograph}.jpg" if scan else ""
        if seen is not None:
            pair = urlencode({"soft": f"{seen.pair[0]:f}", "hard": f"{seen.pair[1]:f}"})
            picture = f"{base}/print.preview.png?{pair}"
        areas = seen.areas if seen is not None else desk().previews().areas(self._source, self._frame)
        on_frame = {each.letter for each in frame.areas or ()}
        return Canvas(
            home=home(self._source, self._frame),
            title=frame.title or say("negatives.frame", frame=frame.frame),
            picture=picture,
            size=desk().photographs().size(scan.photograph) if scan else None,
            corners=WHOLE,
            outlines={each.letter: each.outline for each in areas},
            own=frozenset(on_frame | {letter for letter, places in self._letters.items() if places}),
            wanted=seen.not_drawn if seen is not None else (),
            more=len(on_frame) < MOST_AREAS,
            back=(f"{base}/preview", say("preview.back-to-print" if scan else "preview.to-scan")),
        )

    def waits(self, letter: str) -> bool:
        """Tell whether the recipe works on it."""
        return letter in self._letters

    def keep(self, outlines: Sequence[Outline]) -> str:
        """Keep what the recipe works on with it, the rest with the negative."""
        if seen := [each for each in outlines if each.letter in self._letters]:
            assert self._seen is not None
            desk().previews().maps.keep(self._seen.recipe, seen)
        for each in outlines:
            if each.letter not in self._letters:
                desk().negatives().draw(self._source, self._frame, each)
        return home(self._source, self._frame)

    def rub(self, letter: str) -> None:
        """Rub out the recipe's outline, where it has one, else the negative's."""
        if self._letters.get(letter) and self._seen is not None:
            desk().previews().maps.rub(self._seen.recipe, letter)
        else:
            desk().negatives().rub_area(self._source, self._frame, letter)


class OnSheet:
    """A sheet's print, by its photograph; what is drawn is kept with its recipe."""

    def __init__(self, record: SheetRecord) -> None:
        self._record = record
        self._ground = desk().previews().maps.ground(record)
        self._letters = desk().previews().maps.drawn(record.plan.source) if self._ground else {}

    def canvas(self) -> Canvas:
        """Return how it stands now."""
        record, ground = self._record, self._ground
        photograph = ground is not None and ground.kind == "photograph"
        address = "" if ground is None else f"/practice/print/{ground.picture}.png"
        return Canvas(
            home=f"/sheets/{record.id}/map",
            title=record.plan.title,
            picture=f"/photographs/{ground.picture}.jpg" if ground is not None and photograph else address,
            size=ground.size if ground else None,
            corners=(ground.corners if ground else None) or WHOLE,
            outlines={letter: places for letter, places in self._letters.items() if places},
            own=frozenset(letter for letter, places in self._letters.items() if places),
            wanted=tuple(letter for letter, places in self._letters.items() if not places),
            more=False,
            back=(f"/sheets/{record.id}", say("preview.back-to-record", number=record.number)),
            asks_corners=photograph and ground is not None and ground.corners is None,
            moves_corners=photograph,
        )

    def waits(self, letter: str) -> bool:
        """Tell whether the recipe works on it: nothing else can be kept here."""
        return letter in self._letters

    def keep(self, outlines: Sequence[Outline]) -> str:
        """Keep them with the recipe, and lead to it."""
        kept = desk().previews().maps.keep(self._record.plan.source, outlines)
        return f"/shelf/{kept.id}?version={kept.version}&said=kept#map"

    def rub(self, letter: str) -> None:
        """Rub out the recipe's outline."""
        desk().previews().maps.rub(self._record.plan.source, letter)


def home(source: str, frame: str) -> str:
    """Return the address of a frame's areas."""
    return f"/negatives/{source}/frame/{frame}/areas"


@dataclass(frozen=True)
class Drawn:
    """What is drawn on a sheet's print, and what may be: of a recipe's print with a picture alone."""

    map: Picture | None
    outlines: tuple[tuple[str, str, float, float], ...]
    """On its photograph, in its pixels: letter, points, and where the letter stands."""
    to_draw: tuple[str, ...]
    """Letters that the recipe works on and nobody has drawn."""
    can: bool


def drawn_on(record: SheetRecord) -> Drawn | None:
    """Return what is drawn on a sheet's print; None where nothing is, and nothing may be."""
    maps = desk().previews().maps
    areas, ground = maps.of_record(record), maps.ground(record)
    known: dict[str, tuple[XY, ...]] = {}
    with suppress(ControllerError):
        known = maps.drawn(record.plan.source) if ground is not None else {}
    picture = map_picture(record.plan, ident="map", areas=areas) if areas is not None and areas.outlines else None
    if picture is None and not known:
        return None
    lies: list[tuple[str, str, float, float]] = []
    if ground is not None and ground.kind == "photograph" and ground.corners is not None:
        at, (wide, high) = Onto(ground.corners), ground.size
        for letter, places in known.items():
            points = [(x * wide, y * high) for x, y in (at(*each) for each in places)]
            if points:
                x, y = (sum(of) / len(points) for of in zip(*points, strict=True))
                lies.append((letter, " ".join(f"{x:.0f},{y:.0f}" for x, y in points), round(x), round(y)))
    to_draw = tuple(letter for letter, places in known.items() if not places)
    return Drawn(picture, tuple(lies), to_draw, bool(known))
