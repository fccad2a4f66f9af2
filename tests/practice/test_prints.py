"""The tray prints the negative that stood at the enlarger, and says which it was; the baseboard shows it."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from tools.densities import densities_of
from tools.on_the_roll import reference_of
from tools.picture_darkroom import example, recipe, strip, worked

from controller.foot.status import Status
from controller.model import Frozen
from controller.practice.in_carrier import InCarrier
from controller.practice.practice_scene import PracticeScene
from controller.practice.prints import PracticePrints
from controller.practice.stage import Stage
from controller.recipe.files import write
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip
from controller.store.versions import Kept
from controller.words import say

PLAIN = recipe(("2", 30.0), image_mm=[150, 100])
STRIP = strip(filter="2", times={"kind": "seconds", "step": 5, "bands": 7})


class AtEnlarger(Frozen):
    """What is told of the enlarger; a stand-in with the fields that are read."""

    negative: str = ""
    negative_title: str = ""
    negative_format: str = ""
    magnification: float | None = None
    aperture: float | None = None
    focal_mm: float | None = None


class StillRoom:
    """A practice darkroom in which no hand moved anything."""

    def log(self) -> tuple[()]:
        return ()

    def edges(self) -> None:
        return None


def tray(folder: Path, model: Recipe | Strip, negative: str = "", **of_strip: Any) -> PracticePrints:
    """Return a tray that knows one closed sheet, "one", of a model, begun with a negative at the enlarger."""
    played = worked(model).records[0]
    plan = played.plan
    if plan.strip is not None and of_strip:
        plan = plan.model_copy(update={"strip": plan.strip.model_copy(update=of_strip)})
    plan = plan.model_copy(update={"bench": AtEnlarger(negative=reference_of(negative)) if negative else None})
    sheet = played.model_copy(update={"id": "one", "plan": plan})
    kind = "recipe" if isinstance(model, Recipe) else "strip"
    kept = Kept(id="made", version=1, kind=kind, title=model.title, made="", body=write(model))
    room: Any = StillRoom()
    return PracticePrints(room, folder, lambda _sheet: sheet, lambda _source, _version: kept, None)  # type: ignore[arg-type]


def test_a_print_is_of_the_negative_that_stood_there(tmp_path: Path) -> None:
    """Each negative makes a print of its own, which says what it is of, and stays when another lies there."""
    made = {}
    for name in ("", "oak", "hills", "slip"):
        prints = tray(tmp_path / (name or "none"), PLAIN, name)
        printed = prints.develop("one")
        assert printed.negative == say(f"practice.negative-{name or 'crane'}")
        made[name] = densities_of(prints.png("one", "dry"))
        prints.keep_scene(PracticeScene(negative="fence"))
        assert prints.develop("one") == printed
    seen = list(made.values())
    for number, one in enumerate(seen):
        assert all(abs(float(one.mean() - two.mean())) > 0.01 for two in seen[number + 1 :])


@pytest.mark.parametrize(("negative", "edge"), [("oak", "film"), ("slip", "proof")])
def test_a_proof_strip_prints_the_whole_set(tmp_path: Path, negative: str, edge: str) -> None:
    """Band by band the clear edge comes nearer to bare paper, which is black long before it: the standard is seen."""
    printed = tray(tmp_path, STRIP, negative, template="proof").develop("one")
    assert printed.negative == say(f"practice.negative-{edge}")

    def read(tone: str) -> dict[int, float]:
        return {each.band or 0: each.density for each in printed.swatches if each.tone == say(f"picture.tone-{tone}")}

    rebate, outside = read("rebate"), read("outside")
    assert len(outside) == len(printed.bands) == 7
    behind = [outside[band] - rebate[band] for band in sorted(rebate)]
    assert behind == sorted(behind, reverse=True)
    assert behind[0] > 0.15
    assert behind[-1] < 0.04


def test_what_is_chosen_on_the_practice_page_is_printed(tmp_path: Path) -> None:
    """A choice of the practice page goes before what stood at the enlarger, and is what the baseboard shows."""
    prints = tray(tmp_path, PLAIN, "oak")
    prints.keep_scene(PracticeScene(negative="cups"))
    assert prints.develop("one").negative == say("practice.negative-cups")
    assert prints.lies(Status(number=1, at_ns=0, place="nothing chosen")).name == "cups"


def test_the_baseboard_is_drawn_once_for_each_negative(tmp_path: Path) -> None:
    """What lies in the carrier is part of how the baseboard stands: another negative is another picture, each kept."""
    prints = tray(tmp_path, PLAIN)
    stages = [Stage(lies=InCarrier(name=name)) for name in ("crane", "oak", "film")]
    boards = [prints.board_png(stage) for stage in stages]
    assert len(set(boards)) == 3
    for board in boards:
        # without paper too: its middle has the picture's many greys
        with Image.open(io.BytesIO(board)) as seen:
            middle = seen.crop((seen.width // 5, seen.height // 5, 4 * seen.width // 5, 4 * seen.height // 5))
            assert len(np.unique(np.asarray(middle))) > 20
    assert all(prints.board_png(stage) is board for stage, board in zip(stages, boards, strict=True))
    assert prints.easel(stages[1].lies).across_by_down == pytest.approx(1.5, abs=0.01)
    assert prints.easel(stages[0].lies).across_by_down == pytest.approx(1.25, abs=0.01)


def test_what_lies_in_carrier_b_is_printed_too(tmp_path: Path) -> None:
    """Of a recipe with two carriers each choice for B is another print; of one with one carrier it says nothing."""
    two = example("two-negatives.recipe.json")
    assert isinstance(two, Recipe)
    made = {}
    for name in ("platform", "fence", "none"):
        prints = tray(tmp_path / name, two)
        prints.keep_scene(PracticeScene(negative="crane", second=name))
        assert prints.develop("one").scene.second == name
        made[name] = densities_of(prints.png("one", "dry"))
    assert float(np.abs(made["platform"] - made["fence"]).mean()) > 0.01
    assert float(made["none"].mean()) > float(made["platform"].mean()) + 0.1, "an empty carrier lets all light by"
    stage = Stage(lies=tray(tmp_path / "one", two).negative_of(worked(two).records[0].plan))
    assert stage.lies.second == "platform"
    plain = tray(tmp_path / "plain", PLAIN)
    assert plain.negative_of(worked(PLAIN).records[0].plan).second == ""


def test_a_print_tells_where_its_image_lies(tmp_path: Path) -> None:
    """The corners of the image on the print's own picture: inside them it is the negative's, outside paper white."""
    model = example("crane.recipe.json")
    prints = tray(tmp_path, model)
    made = prints.develop("one")
    record = prints._record("one")
    corners = prints.image_on(record, made)
    assert corners is not None
    (left, top), _, (right, bottom), _ = corners
    densities = densities_of(prints.png("one", "dry"))
    high, wide = densities.shape
    inside = densities[
        round(top * high) + 2 : round(bottom * high) - 2, round(left * wide) + 2 : round(right * wide) - 2
    ]
    assert float(densities[: round(top * high) - 2].max()) < made.dmin + 0.01
    assert float(inside.mean()) > made.dmin + 0.2
    assert (right - left) * 254 == pytest.approx(240, abs=1)
