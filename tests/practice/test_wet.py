"""A print comes up in the practice trays as its time in the developer has it, at the trays' pace."""

from __future__ import annotations

import math

import pytest
from tools.picture_darkroom import recipe, worked
from tools.through_trays import through_trays

from controller.foot.status import PrintNow
from controller.picture.in_the_trays import bath_of, share_at
from controller.practice.practice_scene import PracticeScene
from controller.practice.wet import Grows, Wet, wet_print
from controller.trays.process import USUAL

RECORD = worked(recipe(("2", 2.0))).records[0]
S = 10**9


def seen(tray: str, since_s: float, scene: PracticeScene, hurry: int = 1, **cut: float) -> Wet | None:
    """The print of a sheet that came into this tray so long ago."""
    way = tuple(each.name for each in USUAL["RC"].trays)
    now = PrintNow(number=1, tray=tray, way=way, at=way.index(tray), entered_ns=100 * S, until_ns=None)  # type: ignore[arg-type]
    so_far = through_trays(RECORD, "RC", last=tray, lay_s=0.0, **cut)  # type: ignore[arg-type]
    return wet_print("one", now, so_far.trays, scene, hurry, round((100 + since_s) * S))


def grown(of: Grows, at_ms: float) -> float:
    """What a page's script reckons."""
    into = (at_ms - of.from_ms - of.shows_ms) / of.usual_ms
    whole = 1 - math.exp(-of.growth * (1 - of.appears))
    return of.reaches * min(1.0, max(0.0, (1 - math.exp(-of.growth * into)) / whole))


@pytest.mark.parametrize("developer", ["fresh", "cold", "tired"])
@pytest.mark.parametrize("hurry", [1, 20])
@pytest.mark.parametrize("seconds", [0.0, 8.0, 12.0, 30.0, 90.0, 200.0])
def test_the_image_comes_up_as_it_is_developed(developer: str, hurry: int, seconds: float) -> None:
    """What is seen in the tray is what the print would be, taken out now; the page goes on from there by itself."""
    scene = PracticeScene(developer=developer)  # type: ignore[arg-type]
    wet = seen("developer", seconds / hurry, scene, hurry)
    assert wet is not None
    assert wet.grows is not None
    assert wet.share == pytest.approx(share_at(seconds, "RC", bath_of(developer, 20.0)), abs=1e-9)  # type: ignore[arg-type]
    assert grown(wet.grows, 100_000 + 1000 * seconds / hurry) == pytest.approx(wet.share, abs=1e-3)


def test_it_first_shows_after_a_tenth_of_the_usual_time() -> None:
    """The appearance that is pressed by what is seen is 9 s on RC in a fresh developer, 18 s in a cold one."""
    for developer, first in (("fresh", 9.0), ("cold", 18.0)):
        scene = PracticeScene(developer=developer)  # type: ignore[arg-type]
        before, after = seen("developer", first - 0.1, scene), seen("developer", first + 0.5, scene)
        assert before is not None
        assert after is not None
        assert before.share == 0
        assert after.share > 0


def test_past_the_developer_it_stays_as_it_came_out() -> None:
    """A print that was lifted out early is thin in the stop bath, and is no longer seen in the wash."""
    out = seen("stop", 5.0, PracticeScene(), developer_s=30.0)
    assert out is not None
    assert out.grows is None
    assert (out.where, out.share) == ("stops", pytest.approx(share_at(30, "RC", bath_of("fresh"))))
    assert seen("fix", 5.0, PracticeScene()).where == "fixes"  # type: ignore[union-attr]
    assert seen("wash", 5.0, PracticeScene()) is None
    assert seen("on its way", 5.0, PracticeScene()) is None
