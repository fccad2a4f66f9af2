"""Every page there is, before a desk with something of everything: for what is held on each of them in a browser."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any, Final

from controller.daemon.alignment_desk import AlignmentDesk
from controller.daemon.evenness_desk import EvennessDesk
from controller.daemon.fog_trials import FogTrials
from controller.enlarger.enlargers import read_enlarger
from controller.recipe.outline import drawn
from controller.trials.developer import TIMES_S
from controller.trials.evenness import CORNERS
from controller.trials.safelight import found, grey_plan, sheet_plan
from tools.fitted_papers import demo
from tools.negatives import photograph, tree
from tools.paper_tested import long_exposures, pieces
from tools.stand_in_desk import PLAN, StandInDesk, next_step, step_lines

ENLARGER: Final = Path(__file__).resolve().parents[1] / "enlarger" / "attic.enlarger.json"
OPEN_ALL: Final = "document.querySelectorAll('details').forEach((fold) => { fold.name = ''; fold.open = true; })"
DARK_PAGES: Final = ("/", "/choose", "/sheets", "/sheets/s1", "/phone", "/settings", "/nowhere", "/pair", "/health")
DAY_PAGES: Final = (
    *("/", "/choose", "/sheets", "/sheets/s1", "/sheets/s2", "/phone", "/settings", "/settings/phones", "/wall"),
    *("/shelf", "/shelf/{crane}", "/shelf/{crane}/edit", "/shelf/{crane}/versions", "/shelf/{crane}/kept"),
    *("/shelf/{strip}", "/shelf/{strip}/edit", "/shelf/new/recipe", "/shelf/new/strip", "/pick/s2?band=4&between=0"),
    *("/papers", "/papers/{paper}", "/papers/{paper}/readings", "/papers/{paper}/box", "/papers/{paper}/filters"),
    *(
        "/papers/new",
        "/papers/by-eye",
        "/papers/scan",
        "/lamp",
        "/sounds",
        "/contrast",
        "/contrast/hold",
        "/contrast/negative",
    ),
    *("/negatives", "/negatives/new", "/negatives/{film}", "/negatives/{film}?pencil=mark+print"),
    *("/negatives/{film}/edit", "/negatives/{film}/frame/2", "/negatives/{film}/proof"),
    *("/negatives/{film}/proof?corner=top-left", "/negatives/{film}/frame/2/preview"),
    *(
        "/trays",
        "/trays/process/FB",
        "/trays/process/RC?usual=1",
        "/trays/baths",
        "/sheets/s1/toned",
        "/sheets/s1/toned?number=1",
    ),
    *("/negatives/{film}/frame/2/areas", "/negatives/{film}/frame/2/areas?draw=A"),
    *("/tests/evenness", "/tests/coverage", "/tests/alignment"),
    *("/sheets/s1/map", "/sheets/s5/map", "/sheets/s5/map?draw=B&done=C:0.4,0.5+0.6,0.5+0.6,0.7"),
    *("/easel", "/enlarger", "/enlarger/carrier", "/enlarger/paper", "/enlarger/set-up", "/enlargers/new"),
    *("/carry/{crane}", "/carry/{crane}?go=1&aperture=11", "/practice", "/pair", "/nowhere", "/health"),
    "/reckon?of=size&negative_mm=120&from_mm=240&to_mm=330&time=10",
    *("/looked/s1", "/looked/s1?light=-1&dark=0", "/looked/s2?light=0&dark=1", "/enlargers/{enlarger}", "/data"),
    *("/tests", "/tests/safelight", "/tests/phone", "/tests/reciprocity", "/tests/developer"),
    *("/editions", "/editions/new?sheet=s3", "/editions/{edition}", "/editions/{edition}/print/s1", "/stock"),
    "/contrast?go=1&paper={paper}&light-negative=1.25&dark-negative=0.22&light=first&dark=last",
)
SHEET: Final[dict[str, Any]] = {
    "plan": PLAN.model_copy(update={"version": 2}),  # of which an area is drawn
    "next": next_step(2),
    "steps": step_lines(),
    "sheet": "s1",
    "sheet_number": 5,
    "open": True,
    "place": "ready",
    "headline": "Press when ready.",
    "just_given": "Given: soft base, 10.1 s.",
    "day_until_ns": None,
    "day_refused": "Sheet 5 is open. Hold to close it.",
    "can": ("start", "call given", "leave out", "more burn", "no light", "close"),
    "troubles": ("No sounder answers: the lead-in is 4 s.",),
}


def full_desk(folder: Path, *, practice: bool) -> StandInDesk:
    """Return a desk with a recipe, a strip, two sheets, a paper, an enlarger, and a film with a photographed proof."""
    desk = StandInDesk(practice=practice)
    desk.clock = time.monotonic_ns
    desk.papers().keep(demo().model_copy(update={"name": "paper one"}))
    desk.keep_pictures_in(folder / "pictures")
    desk.at_enlarger().save(read_enlarger(ENLARGER.read_bytes(), "attic"), desk.status().number)
    film = desk.negatives().make(tree())
    (folder / "proof.jpg").write_bytes(photograph())
    with (folder / "proof.jpg").open("rb") as file:
        desk.negatives().photograph(film.id, file, "proof.jpg")
    desk.work(desk.crane, "s1")
    desk.work(desk.strip, "s2")
    desk.trays().make_fresh("fix 1")
    desk.trays().tone("s1", toner="selenium", dilution="1 + 9", minutes="4", did="cooler shadows, a little deeper")
    for name, side in (("first.jpg", 900), ("print.jpg", 1200)):  # the second replaces the first, which can be put back
        (folder / name).write_bytes(photograph(side))
        with (folder / name).open("rb") as file:
            desk.photographs().of_sheet(desk.record("s1"), file, name)
    _begin_an_edition(desk)
    _test_the_safelight(desk)
    _test_the_enlarger(desk)
    _draw_a_map(desk, folder / "print.jpg")
    long_exposures(desk)
    pieces(desk, *TIMES_S["FB"], support="FB")
    return desk


def _test_the_safelight(desk: StandInDesk) -> None:
    """Have a grey, a safelight that was tested, a newer sheet of it, and a grey strip that waits for its band."""
    part = desk.trials().part(FogTrials)
    desk.work_plan(grey_plan("soft", 600_000), "g1")
    part.keep_grey(3, 0.30)
    desk.trials().keep(found(7, 3, 7, 0.30), "trials.outcome-c", {"minutes": "3"}, sheets=("f0",))
    desk.work_plan(sheet_plan("safelight", "soft", 1400), "f1")
    desk.work_plan(sheet_plan("phone", "soft", 1400, 2), "f2")
    desk.work_plan(grey_plan("soft", 600_000), "g2")


def _test_the_enlarger(desk: StandInDesk) -> None:
    """Keep a map of its light and how its carrier lies, and have a new map beside."""
    before = desk.status()
    desk.show(bench=before.bench.model_copy(update={"focal_mm": 150.0, "magnification": 2.0, "aperture": 5.6}))
    evenness, alignment = (desk.trials().part(kind) for kind in (EvennessDesk, AlignmentDesk))
    for _ in range(2):
        evenness.by_eye(dict.fromkeys(CORNERS, "clearly"))
        if desk.trials().last("evenness") is None:
            evenness.keep()
    alignment.keep({"far left": 0.0, "far right": 2.0, "near right": 2.0, "near left": 0.0}, 0.0)
    desk.show(bench=before.bench)


def _draw_a_map(desk: StandInDesk, photograph_: Path) -> None:
    """Photograph one more print, tell its image's corners, and draw an area on it."""
    desk.work(desk.crane, "s5")
    with photograph_.open("rb") as file:
        desk.photographs().of_sheet(desk.record("s5"), file, "map.jpg")
    desk.photographs().corner(desk.record("s5"), "top-left", 0.05, 0.08)
    sky = drawn("A", [(0.1, 0.05), (0.9, 0.1), (0.8, 0.35), (0.2, 0.3)])
    desk.previews().maps.keep(desk.crane.id, [sky])


def _begin_an_edition(desk: StandInDesk) -> None:
    """Begin an edition from the first sheet, with a number given, a box counted, and a print that stands ready."""
    before = desk.status()
    desk.say_day()
    editions = desk.editions()
    source = editions.begin("s1", 5, 1)
    editions.give(source, "s1", "keep", 1)
    editions.stock().count("", "paper one", "12", 25, None)
    other = desk.work(desk.crane, "s3")
    desk.records["s3"] = other.model_copy(update={"plan": other.plan.model_copy(update={"version": 7})})
    desk.work(desk.crane, "s4", steps=tuple(reversed(other.steps)))
    desk.show(day_until_ns=before.day_until_ns, open=before.open)


def named(desk: StandInDesk, addresses: tuple[str, ...]) -> tuple[str, ...]:
    """Return addresses with the names of what stands on that desk."""
    names = {"crane": desk.crane.id, "strip": desk.strip.id, "paper": desk.papers().kept()[0].id}
    names["enlarger"] = desk.at_enlarger().enlargers().kept()[0].id
    names["edition"] = desk.find().things("edition").things[0].id
    names["film"] = desk.negatives().page().sets[0].id
    return tuple(address.format(**names) for address in addresses)
