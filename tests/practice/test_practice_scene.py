"""What the practice page lets a printer set is what the paper gets: lens, safelight, flare, source, mistakes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError
from tools.picture_darkroom import steady, worked

from controller.picture.develop import Developed, develop_sheet
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import negatives_named, scene_for
from controller.practice.practice_scene import PracticeScene, keep_scene, read_scene
from controller.recipe.files import read_recipe

RECIPE = '{"format": "treadle/recipe/1", "title": "Scene", "light": [{"filter": "soft", "seconds": 9.0}], "local": []}'
MODEL = read_recipe(RECIPE, "scene")


def printed(**chosen: Any) -> Developed:
    """Print the crane in the scene as chosen."""
    set_up = PracticeScene(**chosen)
    scene = scene_for(MODEL, negatives_named("crane"), enlarger=set_up.enlarger(), pixels=20_000)
    record = worked(MODEL, steady(MODEL)).records[0]
    return develop_sheet(record, (), set_up.lens_on(scene), practice_paper("one"), set_up.conditions())


def corner(made: Developed) -> float:
    """Return the density near a lower corner of the picture, where the wet stones are dark."""
    height, width = made.dry.shape
    return float(made.dry[-height // 8 : -height // 12, width // 14 : width // 9].mean())


USUAL = printed()


def middle(made: Developed) -> float:
    height, width = made.dry.shape
    return float(made.dry[height // 2 - 4 : height // 2 + 4, width // 2 - 4 : width // 2 + 4].mean())


@pytest.mark.parametrize("chosen", [{"lens": "short"}, {"condenser": "wrong"}, {"falloff_percent": 100.0}])
def test_less_light_comes_to_the_corners(chosen: dict[str, Any]) -> None:
    """A short lens, a small condenser or a lens's own fall-off leaves the corners lighter, and the middle as it was."""
    made = printed(**chosen)
    assert corner(made) < corner(USUAL) - 0.03
    assert middle(made) == pytest.approx(middle(USUAL), abs=0.02)


def test_a_short_lens_lights_a_round_middle() -> None:
    """Where the short lens does not reach, the paper stays white: 80 mm over 0.9 is 89 mm of a diagonal of 154 mm."""
    made = printed(lens="short")
    assert corner(made) == pytest.approx(made.paper.dmin, abs=0.01)


@pytest.mark.parametrize(
    ("safelight", "minutes", "grey"), [("safe", 6.0, False), ("safe", 60.0, True), ("unsafe", 6.0, True)]
)
def test_minutes_under_the_safelight_fog(safelight: str, minutes: float, grey: bool) -> None:
    """Safe for seven minutes by the test with pre-exposed paper: six are not seen, sixty are, and so are six unsafe."""
    made = printed(safelight=safelight, safelight_minutes=minutes)
    added = float((made.dry - USUAL.dry).max())
    assert (added > 0.03) is grey
    assert float((made.dry - USUAL.dry).min()) > -1e-6


def test_flare_and_source_change_the_scale() -> None:
    """Flare lays light over the light tones; Callier's factor above 1 takes light from the dense ones."""
    flared, collimated = printed(flare_percent=5.0), printed(callier=1.2)
    light = np.unravel_index(np.argmin(np.where(USUAL.dry > USUAL.paper.dmin + 0.05, USUAL.dry, 9.0)), USUAL.dry.shape)
    assert flared.dry[light] > USUAL.dry[light]
    assert collimated.dry[light] < USUAL.dry[light]


def test_a_negative_without_a_range_is_refused() -> None:
    """The dense end of a negative of one's own lies over its thin one."""
    with pytest.raises(ValidationError, match="dense end"):
        PracticeScene(own_thin=1.0, own_dense=1.0)


def test_a_scene_kept_before_there_was_more_to_choose_is_read(tmp_path: Any) -> None:
    """What a scene of an earlier version does not say is as usual, and all that is kept is read back."""
    (tmp_path / "scene.json").write_text('{"negative": "slip", "paper": "two", "card_late_ms": 500}')
    assert read_scene(tmp_path) == PracticeScene(negative="slip", paper="two", card_late_ms=500)
    whole = PracticeScene(lens="short", safelight_minutes=12.5, callier=1.15, own_thin=0.3, own_dense=1.1)
    keep_scene(tmp_path, whole)
    assert read_scene(tmp_path) == whole


def test_a_phone_beside_the_easel_fogs() -> None:
    """A lit phone that lies there through the sheet makes the paper greyer, and nothing lighter."""
    added = printed(phone="lit").dry - USUAL.dry
    assert float(added.min()) > -1e-6
    assert float(added.max()) > 0.03


def test_a_late_relay_takes_and_gives_light() -> None:
    """A second late in switching on takes a second of nine from the paper; as late in switching off gives it back."""
    late = middle(printed(relay_on_ms=1000))
    assert late < middle(USUAL) - 0.02
    assert middle(printed(relay_on_ms=1000, relay_off_ms=1000)) == pytest.approx(middle(USUAL), abs=0.005)


def test_a_filter_left_in_is_what_the_paper_sees() -> None:
    """With the hard filter left in, the soft step prints as a hard one: lighter, since it lets little green through."""
    set_up = PracticeScene(filter_left="hard")
    sheet = worked(MODEL, steady(MODEL)).records[0]
    conditions = set_up.conditions([step.number for step in sheet.plan.steps])
    scene = scene_for(MODEL, negatives_named("crane"), pixels=20_000)
    left = develop_sheet(sheet, (), scene, practice_paper("one"), conditions)
    hard = read_recipe(RECIPE.replace('"soft"', '"hard"'), "scene")
    meant = develop_sheet(
        worked(hard, steady(hard)).records[0], (), scene, practice_paper("one"), PracticeScene().conditions()
    )
    assert np.array_equal(left.dry, meant.dry)
    assert not np.allclose(left.dry, USUAL.dry, atol=0.05)


def test_a_hand_that_errs_is_kept_as_a_slip() -> None:
    """The way the card goes and the tools that never come are slips of the hands."""
    slips = PracticeScene(card="uncover", forgotten="A, C").conditions().slips
    assert (slips.card_way, slips.forgotten) == ("uncover", ("A", "C"))
