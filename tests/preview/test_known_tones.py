"""What is known of a negative without being typed: strips' picks as densities of its film, and its clear edge."""

from __future__ import annotations

import json
from collections.abc import Iterator

import numpy as np
import pytest
from tools.preview_scans import fitted_one
from tools.stand_in_desk import StandInDesk, day_desk

from controller.contrast.how_it_looked import usual_wish
from controller.errors import Impossible
from controller.negatives.sets import KnownTone
from controller.paper.emulsions import densities, mixture
from controller.paper.flash import Flash
from controller.paper.paper import Paper, Setup
from controller.paper.typical import typical
from controller.preview.known_tones import density_of, key_of, offers
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.records import SheetRecord
from controller.store.said_of_sheets import Picked

SOFT = {
    "format": "treadle/strip/1",
    "title": "Soft strip",
    "filter": "00",
    "times": {"kind": "stops", "centre": 8.0, "step": "1/3", "bands": 7},
    "card": "cover",
    "pace": "press",
}
HARD = {**SOFT, "title": "Hard strip", "filter": "5", "under": [{"filter": "00", "seconds": 10.1}]}
BENCH = AtEnlarger(negative="set:1", soft="00", hard="5", magnification=2.0, aperture=8.0)


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk(fitted_one()) as made:
        yield made


def picked(desk: StandInDesk, form: dict[str, object], seconds: float, name: str) -> SheetRecord:
    """A closed strip, picked from."""
    kept = desk.recipes().save(json.dumps(form))
    record = desk.work(kept, name)
    pick = Picked(sheet=name, band=4, between=False, filter=str(form["filter"]), seconds=seconds)
    plan = record.plan.model_copy(update={"bench": BENCH})
    desk.records[name] = record.model_copy(update={"picks": (pick,), "plan": plan})
    return desk.records[name]


@pytest.fixture
def records(desk: StandInDesk) -> tuple[SheetRecord, SheetRecord]:
    """A soft strip picked at 10.1 s, and a hard one over it picked at 8.0 s."""
    return picked(desk, SOFT, 10.1, "soft"), picked(desk, HARD, 8.0, "hard")


def tone(what: str, **more: object) -> KnownTone:
    return KnownTone.model_validate({"at": [0.5, 0.5], "what": what, **more})


def read_at(**stand: float) -> Paper:
    return fitted_one().model_copy(update={"setup": Setup(soft_filter="00", hard_filter="5", **stand)})  # type: ignore[arg-type]


def test_a_pick_is_the_density_that_its_light_prints_as_wished(
    desk: StandInDesk, records: tuple[SheetRecord, SheetRecord]
) -> None:
    """The highlight under the soft pick, the shadow under both: at these densities the paper gives what was wished."""
    paper = read_at()
    wish, mix = usual_wish(paper), mixture(paper)
    light = density_of(tone("light", sheet="soft"), desk.record, paper, typical=False)
    dark = density_of(tone("dark", sheet="hard"), desk.record, paper, typical=False)
    assert float(densities(mix, 10.1, 0.0, light)) == pytest.approx(wish.light, abs=1e-3)
    assert float(densities(mix, 10.1, 8.0, dark)) == pytest.approx(wish.dark, abs=1e-3)
    assert light > dark + 0.3


@pytest.mark.parametrize("beforehand", [False, True])
def test_a_strip_s_flash_is_part_of_what_was_picked(desk: StandInDesk, beforehand: bool) -> None:
    """Both tones are those that print as wished under their light and the flash, on the strip or before it."""
    flash = {"seconds": 0.3, "filter": "00", "way": "no negative"} | ({"beforehand": True} if beforehand else {})
    picked(desk, {**SOFT, "flash": flash}, 4.8, "soft")
    picked(desk, {**HARD, "under": [{"filter": "00", "seconds": 4.8}], "flash": flash}, 10.2, "hard")
    paper, under = read_at(), Flash(seconds=0.3)
    wish, mix = usual_wish(paper), mixture(paper)
    light = density_of(tone("light", sheet="soft"), desk.record, paper, typical=False)
    dark = density_of(tone("dark", sheet="hard"), desk.record, paper, typical=False)
    assert float(densities(mix, 4.8, 0.0, light, under)) == pytest.approx(wish.light, abs=1e-3)
    assert float(densities(mix, 4.8, 10.2, dark, under)) == pytest.approx(wish.dark, abs=1e-3)
    too_much = {**SOFT, "flash": flash | {"seconds": 1.5}}
    picked(desk, too_much, 4.8, "soft")
    with pytest.raises(Impossible, match="white is white no more"):
        density_of(tone("light", sheet="soft"), desk.record, paper, typical=False)


def test_the_size_that_a_strip_was_made_at_is_taken_off(
    desk: StandInDesk, records: tuple[SheetRecord, SheetRecord]
) -> None:
    """One stop opened at the paper's readings: the film's density is 0.301 less (log10 2, by definition of a stop)."""
    same, opened = read_at(magnification=2.0, aperture=8.0), read_at(magnification=2.0, aperture=5.6)
    found = [density_of(tone("light", sheet="soft"), desk.record, paper, typical=False) for paper in (same, opened)]
    assert found[0] - found[1] == pytest.approx(np.log10(2.0), abs=1e-6)


def test_two_picks_on_a_typical_paper_have_the_same_error(
    desk: StandInDesk, records: tuple[SheetRecord, SheetRecord]
) -> None:
    """However fast a paper is taken to be, two picks print as they were wished, and stay as far from each other."""
    apart = []
    for speed in (-0.4, 0.0, 0.5):
        faster = typical().model_copy(
            update={
                "emulsions": tuple(
                    each.model_copy(
                        update={"soft_speed": each.soft_speed + speed, "hard_speed": each.hard_speed + speed}
                    )
                    for each in typical().emulsions
                )
            }
        )
        light, dark = (
            density_of(tone(what, sheet=sheet), desk.record, faster, typical=True)
            for what, sheet in (("light", "soft"), ("dark", "hard"))
        )
        apart.append(light - dark)
    assert apart == pytest.approx([apart[0]] * 3, abs=1e-6)
    with pytest.raises(Impossible, match="two strips"):
        density_of(tone("edge", density=0.3), desk.record, typical(), typical=True)


def test_what_is_on_offer(desk: StandInDesk, records: tuple[SheetRecord, SheetRecord]) -> None:
    """Readings first, then picks, the film's own edge, a densitometer; without a paper that was read, picks alone."""
    readings = (("sky", 1.31),)
    found = offers("4x5", records, readings, calibrated=True)
    assert [each.key for each in found] == ["easel:sky", "light:soft", "dark:hard", "edge", "read"]
    assert [each.density for each in found] == [1.31, None, None, 0.08, None]
    assert next(each.density for each in offers("24x36", (), (), calibrated=True)) == 0.30
    assert [each.key for each in offers("4x5", records, readings, calibrated=False)] == ["light:soft", "dark:hard"]
    assert key_of(tone("light", sheet="soft")) == "light:soft"


@pytest.mark.parametrize(
    "change", [{"filter": "2"}, {"under": []}, {"times": {"kind": "seconds", "step": 3, "bands": 5}}]
)
def test_strips_that_say_nothing_are_left_out(change: dict[str, object], desk: StandInDesk) -> None:
    """A strip of another filter, or of hard light without its soft base, tells no tone; one by seconds does."""
    record = picked(desk, {**HARD, **change}, 8.0, "other")
    keys = [each.key for each in offers("4x5", [record], (), calibrated=False)]
    assert keys == (["dark:other"] if "times" in change else [])


def test_a_pick_that_is_gone_says_so(desk: StandInDesk, records: tuple[SheetRecord, SheetRecord]) -> None:
    """A tone that was tapped for a strip of which nothing is picked any more is asked for anew."""
    desk.records["soft"] = records[0].model_copy(update={"picks": ()})
    with pytest.raises(Impossible, match="tap the two tones anew"):
        density_of(tone("light", sheet="soft"), desk.record, fitted_one(), typical=False)
