"""See it before the paper: what is kept of a frame's scan, the pair in hand, and the print as its paper gives it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryFile
from typing import TYPE_CHECKING, BinaryIO, Final

from controller.contrast.asks import EnlargerStand
from controller.contrast.recipe_lights import lights_of, new_recipe, put_lights, stand_of, which_light
from controller.daemon.negative_lists import in_carrier
from controller.errors import ControllerError, Impossible, NotThere, Unreadable
from controller.foot.acts import Act, Load
from controller.model import Frozen
from controller.negatives.sets import KnownTone, Scan, reference
from controller.paper.libraries import missing_libraries
from controller.paper.paper import Paper, seconds_factor
from controller.paper.typical import typical
from controller.picture import scanned
from controller.preview import known_tones
from controller.preview.drawn import drawn_areas
from controller.preview.known_tones import DOUBT, Readings, ToneOffer
from controller.preview.lights import Pair, letters_in, of_pair, of_plan, proposed, round_a_pair, tenths
from controller.preview.orders import DrawnArea, Lit, Order, Shown, Tie
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import write
from controller.recipe.recipe import Negative, Recipe
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.negative_shelf import NegativeShelf
    from controller.daemon.paper_shelf import PaperShelf
    from controller.daemon.preview_renderer import PreviewRenderer
    from controller.daemon.printing_maps import PrintingMaps
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.enlarger.standing import Setting
    from controller.foot.status import Status
    from controller.store.archive import Archive

NEWEST: Final = 20
"""Sheets of a negative that are looked through for picks."""
WET_PERCENT: Final = 8.0
"""How much less light a wet print on fibre looks to have had (usual; second-hand)."""
GRID_SIDE_PIXELS: Final = 200
"""Along the longer side of each print of a grid: a phone shows less."""
SIDE_PIXELS: Final = 1000


class Look(Frozen):
    """How a preview is looked at."""

    wet: bool = False
    white: bool = False
    black: bool = False
    at: tuple[float, float] | None = None
    """Where its density is asked for, as shares."""


class Preview(Frozen):
    """What a frame's print rests on: two known tones, a paper, a recipe or none, and the pair in hand."""

    reference: str
    scan: Scan
    ties: tuple[Tie, ...]
    paper: Paper
    typical: bool
    factor: float
    setup_known: bool
    """Both the paper's readings and the enlarger say how large and at which aperture."""
    recipe: str = ""
    """The id of the recipe that the pair goes into; empty where a new one is made of it."""
    title: str = ""
    pair: Pair
    areas: tuple[DrawnArea, ...] = ()
    not_drawn: tuple[str, ...] = ()
    """Letters of areas that the recipe works on and nobody has drawn."""
    wet_percent: float = 0.0


class PreviewDesk:
    """Safe from any thread, as its parts are.

    `readings` gives what was read of a negative at the easel. In the practice darkroom negatives are `invented`: they
    scan themselves, a densitometer reads them, and their areas are drawn.
    """

    def __init__(
        self,
        negatives: NegativeShelf,
        picture_place: Callable[[str], Path],
        papers: PaperShelf,
        recipes: RecipeShelf,
        archive: Archive,
        renderer: PreviewRenderer,
        maps: PrintingMaps,
        *,
        status: Callable[[], Status],
        do: Callable[[Act, int], Status],
        setting: Callable[[], Setting],
        readings: Callable[[str], Readings] = lambda _: (),
        invented: bool = False,
    ) -> None:
        self._negatives, self._papers, self._recipes, self._archive = negatives, papers, recipes, archive
        self._picture_place, self.maps = picture_place, maps
        self._renderer, self._status, self._do, self._setting = renderer, status, do, setting
        self._readings, self._invented = readings, invented

    def close(self) -> None:
        """End the process that prints are rendered by."""
        self._renderer.close()

    # ---- the scan, and what is known of it

    def bring(self, source: str, frame: str, file: BinaryIO, name: str, how: str) -> None:
        """Keep a frame's scan; raises as `NegativeShelf.keep_scan`."""
        self._negatives.keep_scan(source, frame, file, name, how)

    def scan(self, source: str, frame: str) -> Scan | None:
        """Return what is kept of a frame's scan; raises as `NegativeShelf.negative`."""
        return self._negatives.negative(reference(source, frame)).frame.scan

    def offers(self, source: str, frame: str) -> tuple[ToneOffer, ...]:
        """Return the tones that may be tapped, each once; those that are tapped already are left out."""
        here = reference(source, frame)
        found = self._negatives.negative(here)
        records = (self._archive.record(line.id) for line in self._negatives.life(here).sheets[:NEWEST])
        every = known_tones.offers(
            found.of.negatives.frame_format or "",
            records,
            self._readings(here),
            calibrated=not self._paper()[1],
        )
        tapped = {known_tones.key_of(tone) for tone in found.frame.scan.tones} if found.frame.scan else set()
        return tuple(each for each in every if each.key not in tapped - {"read"})

    def is_invented(self, source: str, frame: str) -> bool:
        """Tell whether a negative scans itself, and a densitometer that needs nothing typed is at hand."""
        return self._invented and scanned.negative_of(reference(source, frame)) is not None

    def bring_invented(self, source: str, frame: str) -> None:
        """Keep the scan of a practice negative.

        Raises:
            NotThere: it is none.
            Impossible: the libraries that draw pictures are missing; or as `bring`.
        """
        if not self.is_invented(source, frame):
            raise NotThere(say("preview.no-practice"))
        if missing := missing_libraries():
            raise Impossible(say("preview.libraries", names=missing))
        content = scanned.scan_of(reference(source, frame))
        assert content is not None
        with TemporaryFile() as file:  # the unpacker's process reads it by its handle
            file.write(content)
            self.bring(source, frame, file, say("preview.practice-file"), "flatbed")

    def tie(self, source: str, frame: str, key: str, at: tuple[float, float], typed: Decimal | None = None) -> None:
        """Keep that a tone lies at a place of the scan; of more than two the oldest goes.

        Raises:
            NotThere: there is no such frame, scan or tone.
            Impossible: nobody says how dense it is, or as no film is; or the two tones could tie no scan.
        """
        offer = next((each for each in self.offers(source, frame) if each.key == key), None)
        scan = self.scan(source, frame)
        if offer is None or scan is None:
            raise NotThere(say("preview.no-scan" if scan is None else "preview.no-tone"))
        density = offer.density
        if density is None and not offer.sheet:
            density = scanned.density_at(reference(source, frame), *at) if self._invented else None
            density = density if density is not None else None if typed is None else float(typed)
            if density is None:
                raise Impossible(say("preview.density-typed"), ("density",))
        told = None if density is None else Decimal(str(round(known_tones.of_film(density, offer), 3)))
        place = (Decimal(str(round(at[0], 4))), Decimal(str(round(at[1], 4))))
        tone = KnownTone(at=place, what=offer.what, density=told, sheet=offer.sheet or None)
        self._negatives.tie(source, frame, [*scan.tones[-1:], tone])

    def forget(self, source: str, frame: str) -> None:
        """Forget what is known of a scan; raises as `NegativeShelf.tie`."""
        self._negatives.tie(source, frame, ())

    # ---- the print

    def preview(self, source: str, frame: str, pair: Pair | None = None) -> Preview | None:
        """Return what a frame's print rests on, with the pair in hand unless told; None before two tones are known.

        The pair is that of the recipe which is loaded or was made for the negative; without one, the pair that puts
        the two known tones where a highlight and a shadow belong.

        Raises:
            NotThere, Unreadable: as `scan`.
            Impossible: the two tones tie nothing, or have no density on this paper.
        """
        scan = self.scan(source, frame)
        if scan is None or len(scan.tones) < 2:
            return None
        if missing := missing_libraries():
            raise Impossible(say("preview.libraries", names=missing))
        paper, is_typical = self._paper()
        ties = tuple(self._tie(tone, paper, typical_=is_typical) for tone in scan.tones)
        here = reference(source, frame)
        known = next(self._of_negative(here, paper), None)
        kept, recipe = known if known is not None else ("", None)
        stand = self._stand(recipe)
        factor, whole = seconds_factor(paper, stand.magnification, stand.aperture)
        if pair is None and recipe is not None:
            lights = lights_of(recipe, paper.setup)
            pair = tenths(lights.soft), tenths(lights.hard)
        found = pair if pair is not None else proposed(paper, ties, factor)
        areas = self.areas(source, frame, recipe)
        lights_ = () if recipe is None else letters_in(self._lights(recipe, paper, stand, found))
        support = (recipe.paper.support if recipe and recipe.paper else None) or self._status().bench.support
        percent = float(recipe.dry_down_percent or 0) if recipe else 0.0
        return Preview(
            reference=here,
            scan=scan,
            ties=ties,
            paper=paper,
            typical=is_typical,
            factor=factor,
            setup_known=whole or is_typical,
            recipe=kept,
            title=recipe.title if recipe else "",
            pair=found,
            areas=areas,
            not_drawn=tuple(letter for letter in lights_ if letter not in {area.letter for area in areas}),
            wet_percent=percent or (WET_PERCENT if support == "FB" else 0.0),
        )

    def areas(self, source: str, frame: str, recipe: Recipe | None = None) -> tuple[DrawnArea, ...]:
        """Return a frame's areas: as a recipe has them, else as drawn, else as a practice negative has by itself."""
        here = reference(source, frame)
        own = {each.letter: each.places for each in self._negatives.negative(here).frame.areas or ()}
        by_itself = dict(scanned.areas_of(here)) if self._invented else {}
        found = {letter: DrawnArea(letter=letter, outline=places) for letter, places in (by_itself | own).items()}
        return tuple((found | ({} if recipe is None else drawn_areas(recipe, found))).values())

    def print(self, of: Preview, look: Look) -> tuple[bytes, Shown]:
        """Return the print of the pair in hand, a PNG in true print densities, and its figures.

        Raises:
            Impossible, WrongMoment, StoreTrouble: as `PreviewRenderer.render`.
        """
        return self._rendered(of, self._of(of, (of.pair,)), look, SIDE_PIXELS)

    def grid(self, of: Preview, look: Look) -> tuple[bytes, Shown]:
        """Return five by five small prints round the pair in hand, in thirds of a stop; raises as `print`."""
        pairs = [pair for row in round_a_pair(of.pair) for pair in row]
        return self._rendered(of, self._of(of, pairs), look, GRID_SIDE_PIXELS)

    def take(self, of: Preview, number: int) -> Status:
        """Let the pair in hand be that of the next sheet, decided on snapshot `number`: in its recipe, or a new one.

        Raises:
            Impossible, Unreadable, StoreTrouble: the recipe cannot have it; nothing is kept.
            WrongMoment: it is kept, but a sheet is open, or the snapshot is not the present one.
        """
        if of.recipe:
            before = self._recipes.recipe(of.recipe)
            made = put_lights(before, of.paper.setup, self._stand(before), of.pair)
        else:
            made, before = self._new(of), None
        same = made == before
        kept = self._recipes.fetch(of.recipe) if same else self._recipes.save(write(made), of.recipe or None)
        return self._do(Load(source=kept.id, version=kept.version), number)

    def _new(self, of: Preview) -> Recipe:
        """Return a recipe of the pair in hand, for this negative, as the enlarger stands."""
        found, facts = self._negatives.negative(of.reference), self._setting()
        here = in_carrier(found.of.id, found.of.negatives, found.frame)
        made = new_recipe(here.title, of.paper, self._stand(None), of.pair, "")
        negative = Negative(name=here.title, format=here.format or None)
        own = {"negative": negative, "filters": facts.filters or made.filters}
        return made.model_copy(update=dict(facts) | own)

    # ---- what it rests on

    def _paper(self) -> tuple[Paper, bool]:
        """Return the paper that is out, as it was read; or a typical one."""
        bench = self._status().bench
        source = bench.paper or (self._papers.called(bench.paper_title) if bench.paper_title else "")
        with suppress(NotThere, Unreadable):
            if source:
                return self._papers.fetch(source), False
        return typical(), True

    def _tie(self, tone: KnownTone, paper: Paper, *, typical_: bool) -> Tie:
        density = known_tones.density_of(tone, self._archive.record, paper, typical=typical_)
        return Tie(x=float(tone.at[0]), y=float(tone.at[1]), density=density, doubt=DOUBT[tone.what])

    def _of_negative(self, here: str, paper: Paper) -> Iterator[tuple[str, Recipe]]:
        """Give the recipes of a negative that are of soft and hard light: first the one that is loaded."""
        status = self._status()
        loaded = [status.plan.source] if status.plan and status.plan.kind == "recipe" else []
        named = [kept.id for kept in self._negatives.life(here).recipes]
        sources = [*(loaded if status.bench.negative == here else set(loaded) & set(named)), *named]
        for source in dict.fromkeys(sources):
            with suppress(ControllerError):
                recipe = self._recipes.recipe(source)
                lights_of(recipe, paper.setup)
                if not any(light.carrier == "B" for light in recipe.light):  # a print of two has no one scan
                    yield source, recipe

    def _stand(self, recipe: Recipe | None) -> EnlargerStand:
        told, bench = stand_of(recipe) if recipe else EnlargerStand(), self._status().bench
        return EnlargerStand(
            magnification=told.magnification if told.magnification is not None else bench.magnification,
            aperture=told.aperture if told.aperture is not None else bench.aperture,
        )

    def _of(self, of: Preview, pairs: Sequence[Pair]) -> tuple[tuple[Lit, ...], ...]:
        """Return the lights of each pair, with all that the recipe adds."""
        if not of.recipe:
            return tuple(of_pair(*map(float, pair)) for pair in pairs)
        recipe = self._recipes.recipe(of.recipe)
        stand = self._stand(recipe)
        return tuple(self._lights(recipe, of.paper, stand, pair) for pair in pairs)

    def _lights(self, recipe: Recipe, paper: Paper, stand: EnlargerStand, pair: Pair) -> tuple[Lit, ...]:
        put = put_lights(recipe, paper.setup, stand, pair)
        plan = compile_any(put, source="", version=0, longest_ms=self._recipes.longest_ms())
        return of_plan(plan, lambda name: which_light(recipe, paper.setup, name))

    def _rendered(self, of: Preview, prints: tuple[tuple[Lit, ...], ...], look: Look, side: int) -> tuple[bytes, Shown]:
        order = Order(
            paper=of.paper,
            factor=of.factor,
            typical=of.typical,
            how=of.scan.how,
            ties=of.ties,
            prints=prints,
            areas=of.areas,
            wet_percent=of.wet_percent if look.wet else 0.0,
            show_white=look.white,
            show_black=look.black,
            side=side,
            at=look.at,
        )
        return self._renderer.render(order, self._picture_place(of.scan.photograph))
