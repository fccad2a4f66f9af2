"""The page of evenness: measured, scanned or seen; the map and its cause, kept; edge burns by one tap; refusals."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
from PIL import Image
from tools.fitted_papers import demo
from tools.phone import Paired, words_of
from tools.stand_in_desk import CRANE, StandInDesk

from controller.daemon.evenness_desk import EvennessDesk
from controller.easel.one_light import printed, seconds_for
from controller.enlarger.enlargers import Enlarger
from controller.foot.acts import Load, StandAtEnlarger
from controller.lamp.history import LampView
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.easel_rows import SpotRead
from controller.trials.evenness import AT, CORNERS, PLACES, Place, natural_stops, place_words

BENCH = AtEnlarger(negative_format="4x5", magnification=2.0, aperture=8.0, focal_mm=150.0, enlarger_title="Attic")


def fall_off(magnification: float) -> dict[Place, float]:
    """Return cos⁴ at the nine places of a 4×5 under a lens of 150 mm, in stops."""
    return {place: natural_stops(150.0, magnification, math.hypot(60.0 * x, 48.0 * y)) for place, (x, y) in AT.items()}


def measured(stops: dict[Place, float], readings: str = "r1", gain: str = "high") -> list[SpotRead]:
    """Return the rows of the nine places."""
    return [
        SpotRead(
            readings=readings,
            what="evenness",
            spot=place_words(place),
            level=20_000.0 * 2.0 ** stops[place],
            dark=60.0,
            gain=gain,
            sensor="practice",
            bench=BENCH,
        )
        for place in PLACES
    ]


@pytest.fixture
def enlarger(desk: StandInDesk) -> StandInDesk:
    """A probe is fitted; a 150 mm lens stands at m 2 over a 4×5."""
    desk.say_day()
    desk.show(bench=BENCH)
    desk.bench.shown = LampView(lag_ms=0.0, operate_ms=0.0, release_ms=0.0, sensor="ready")
    return desk


def test_nothing_is_measured_yet(enlarger: StandInDesk, phone: Paired) -> None:
    """One black button begins it; what is known of the enlarger stands above."""
    shown = phone.look("/tests/evenness")
    words = words_of(shown)
    assert "lens 150 mm · ×2 · f/8 · 4×5" in words
    assert "Measure nine places" in words
    assert '<button class="sure">Measure nine places' in shown.text
    phone.send("/tests/evenness/begin", {"number": enlarger.status().number})
    assert enlarger.bench.asked == [("readings", "readings:evenness")]


def test_a_map_is_shown_named_and_kept(enlarger: StandInDesk, phone: Paired) -> None:
    """The lens's own fall-off at m 2: −0.32 in the corners (cos⁴, derived), even with burns; kept as both results."""
    enlarger.spots.measured = measured(fall_off(2.0))
    words = words_of(phone.look("/tests/evenness"))
    assert "corner: −0.32 stop. It is the lens’s own fall-off: the cos⁴ law gives −0.32 at this size." in words
    assert "with them no place is more than 0.0" in words
    answer = phone.send("/tests/evenness/keep", {})
    assert answer.status_code == 303
    kept = enlarger.trials().last("evenness")
    assert kept is not None
    assert kept.body.cause == "lens"  # type: ignore[union-attr]
    covered = enlarger.trials().last("coverage")
    assert covered is not None
    assert covered.body.covered  # type: ignore[union-attr]
    again = words_of(phone.look("/tests/evenness"))
    assert "−0.32" in again
    assert "Save" not in again
    assert phone.send("/tests/evenness/keep", {}).status_code == 422, "there is none to be kept twice"


def test_one_tap_burns_the_edges_of_the_loaded_recipe(enlarger: StandInDesk, phone: Paired) -> None:
    """Edge burns through both lights in twelfths; twice, or into one of another size, is refused in a sentence."""
    enlarger.spots.measured = measured(fall_off(2.0))
    assert "No recipe is loaded" in words_of(phone.look("/tests/evenness"))
    enlarger.show(plan=enlarger.recipes().plan("crane"), place="ready")
    assert "Burn the edges of “Harbour crane, 8x10”" in words_of(phone.look("/tests/evenness"))
    assert phone.send("/tests/evenness/mend", {}).status_code == 303
    recipe = enlarger.recipes().recipe("crane")
    added = recipe.local[3:]
    assert {(work.act, work.filter, work.what, work.stops) for work in added} == {
        ("edge burn", "both", "fall-off", "2/12")
    }
    assert {edge for work in added for edge in work.edges} == {"top", "right", "bottom", "left"}  # type: ignore[union-attr]
    again = phone.send("/tests/evenness/mend", {})
    assert again.status_code == 422
    assert "has edge burns for the lens’s fall-off already" in words_of(again)
    text = CRANE.replace('"magnification": 2.0', '"magnification": 3.0')
    other = enlarger.recipes().save(text)
    enlarger.show(plan=enlarger.recipes().plan(other.id), place="ready")
    answer = phone.send("/tests/evenness/mend", {})
    assert answer.status_code == 422
    assert "stands at ×3, the light was measured at ×2" in words_of(answer)
    assert len(enlarger.recipes().recipe(other.id).local) == 3


def test_a_condenser_too_small_is_named_and_nothing_is_burnt(enlarger: StandInDesk, phone: Paired) -> None:
    """Corners and ends without light: the source's, since the lens covers; the coverage row says the same."""
    stops = dict.fromkeys(PLACES, 0.0) | dict.fromkeys(CORNERS, -5.0) | {"left": -4.0, "right": -4.0}
    enlarger.spots.measured = measured(stops)  # type: ignore[arg-type]
    shown = phone.look("/tests/coverage")
    words = words_of(shown)
    assert "for a smaller format: its light ends between 96 and 120 mm across on the negative" in words
    assert "It lights 6×7 at the most." in words
    assert "/tests/evenness/mend" not in shown.text
    assert phone.send("/tests/evenness/keep", {}).status_code == 303
    kept = enlarger.trials().last("coverage")
    assert kept is not None
    assert not kept.body.covered  # type: ignore[union-attr]


def test_the_enlarger_counts_as_it_stood_then(enlarger: StandInDesk, phone: Paired) -> None:
    """Measured at m 2, looked at once the head stands at m 4: told and kept for m 2; changed in between: refused."""
    enlarger.spots.measured = measured(fall_off(2.0))
    enlarger.show(bench=BENCH.model_copy(update={"magnification": 4.0}))
    assert "the cos⁴ law gives −0.32 at this size" in words_of(phone.look("/tests/evenness"))
    phone.send("/tests/evenness/keep", {})
    kept = enlarger.trials().last("evenness")
    assert kept is not None
    assert kept.body.magnification == 2.0  # type: ignore[union-attr]
    rows = measured(fall_off(2.0), "r2")
    rows[4] = rows[4].model_copy(update={"bench": BENCH.model_copy(update={"magnification": 4.0})})
    enlarger.spots.measured = rows
    words = words_of(phone.look("/tests/evenness"))
    assert "was changed at the enlarger while places were measured" in words
    assert "−0.32" in words, "the map that is kept stands below"


def test_taken_back_the_map_is_there_again(enlarger: StandInDesk, phone: Paired) -> None:
    """The way back: the result counts no more, and what was measured can be kept anew."""
    enlarger.spots.measured = measured(fall_off(2.0))
    phone.send("/tests/evenness/keep", {})
    kept = enlarger.trials().last("evenness")
    assert kept is not None
    assert phone.send("/tests/back", {"trial": "evenness", "id": kept.id}).status_code == 303
    assert enlarger.trials().last("evenness") is None
    assert "Save" in words_of(phone.look("/tests/evenness"))


def test_a_doubtful_map_sets_nothing(enlarger: StandInDesk, phone: Paired) -> None:
    """A probe that moved, a place left out, one dark corner, another gain: a sentence with the way back each."""
    moved = fall_off(2.0) | {"far": -1.0}
    for rows, says in (
        (measured(moved), "the probe lay elsewhere"),
        (measured(fall_off(2.0))[:-1], "Measure all nine places in one go"),
        (measured(fall_off(2.0) | {"near left": -3.0}), "Something stands in its way"),
        ([*measured(fall_off(2.0))[:-1], *measured(fall_off(2.0), gain="low")[-1:]], "different gains"),
    ):
        enlarger.spots.measured = rows
        assert says in words_of(phone.look("/tests/evenness"))
        assert phone.send("/tests/evenness/keep", {}).status_code == 422
    assert enlarger.trials().last("evenness") is None


def grey(stops: dict[Place, float], border: int = 0) -> bytes:
    """Return an 8-bit scan of a grey sheet whose nine fields had so much light through hard, on the demo paper."""
    paper = demo()
    seconds = seconds_for(paper, "hard", 0.0, 0.75)
    wide, high = 300, 240
    picture = np.full((high, wide), 0.0)
    for place, (x, y) in AT.items():
        density = printed(paper, "hard", seconds * 2.0 ** stops[place], 0.0)
        picture[(1 - y) * 80 : (2 - y) * 80, (x + 1) * 100 : (x + 2) * 100] = density
    if border:
        picture = np.pad(picture, border, constant_values=paper.dmin)
    light = 10.0**-picture
    level = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    file = io.BytesIO()
    Image.fromarray(np.round(255.0 * level).astype(np.uint8)).save(file, "PNG")
    return file.getvalue()


@pytest.mark.parametrize("border", [0, 20])
def test_a_scan_of_a_grey_sheet_tells_the_same(enlarger: StandInDesk, phone: Paired, tmp_path, border: int) -> None:  # type: ignore[no-untyped-def]
    """Middle grey through hard, scanned with its border or cut to the grey: the stops within 0.05 of what it had."""
    enlarger.lay_scans(tmp_path)
    kept = enlarger.papers().keep(demo())
    enlarger.show(bench=BENCH.model_copy(update={"paper": kept.id}))
    answer = phone.send("/tests/evenness/scan", {"file": (io.BytesIO(grey(fall_off(4.0), border)), "grey.png")})
    assert answer.status_code == 303, words_of(answer)
    found = enlarger.trials().part(EvennessDesk).view().map
    assert found is not None
    assert found.way == "scan"
    for place, stops in fall_off(4.0).items():
        assert found.stops[place] == pytest.approx(stops, abs=0.05), place


def test_what_is_no_grey_sheet_is_refused(enlarger: StandInDesk, phone: Paired, tmp_path) -> None:  # type: ignore[no-untyped-def]
    """No file, no picture, a white sheet: a sentence each, and no map."""
    enlarger.lay_scans(tmp_path)
    assert "No file came" in words_of(phone.send("/tests/evenness/scan", {}))
    answer = phone.send("/tests/evenness/scan", {"file": (io.BytesIO(b"nothing"), "x.png")})
    assert answer.status_code == 422
    white = io.BytesIO()
    Image.new("L", (200, 160), 245).save(white, "PNG")
    answer = phone.send("/tests/evenness/scan", {"file": (io.BytesIO(white.getvalue()), "white.png")})
    assert answer.status_code == 422
    assert "no middle grey" in words_of(answer)
    assert enlarger.trials().part(EvennessDesk).view().map is None


def test_the_strip_for_a_grey_sheet_is_one_tap(enlarger: StandInDesk, phone: Paired) -> None:
    """Through hard by halves, its middle band the grey of this paper; no negative is in then; twice is one strip."""
    kept = enlarger.papers().keep(demo())
    enlarger.show(
        bench=BENCH.model_copy(update={"paper": kept.id, "paper_title": kept.title, "negative_title": "Pier"})
    )
    for _ in range(2):
        assert phone.send("/tests/evenness/strip", {"number": enlarger.status().number}).status_code == 303
    strips = [each for each in enlarger.recipes().kept("strip") if each.title == "Even grey through hard"]
    assert len(strips) == 1
    made = enlarger.recipes().model(strips[0].id)
    assert (made.filter, made.times.kind, made.times.bands, made.negative) == ("hard", "stops", 7, None)  # type: ignore[union-attr]
    centre = float(made.times.centre)  # type: ignore[union-attr]
    assert printed(demo(), "hard", centre, 0.0) == pytest.approx(0.7, abs=0.02)
    acts = [act for act, _ in enlarger.acts]
    assert [type(act) for act in acts] == [StandAtEnlarger, Load, Load]
    assert (acts[0].bench.negative_title, acts[0].bench.negative_format) == ("", "4x5")  # type: ignore[union-attr]


def test_by_eye(enlarger: StandInDesk, phone: Paired) -> None:
    """Corners clearly lighter: some sixth of a stop; white ones: no light; a word that is none is refused."""
    looks = dict.fromkeys(CORNERS, "clearly")
    assert phone.send("/tests/evenness/eye", looks).status_code == 303
    found = enlarger.trials().part(EvennessDesk).view().map
    assert found is not None
    assert found.way == "eye"
    assert -0.3 < found.stops["far left"] < -0.1
    assert phone.send("/tests/evenness/eye", dict.fromkeys(CORNERS, "white")).status_code == 303
    found = enlarger.trials().part(EvennessDesk).view().map
    assert found is not None
    assert not found.covered
    assert phone.send("/tests/evenness/eye", {"far": "blue"}).status_code == 422


def test_another_lens_makes_it_due(enlarger: StandInDesk, phone: Paired) -> None:
    """Kept of one lens, it is due with another, and says why; of another enlarger it was never made."""
    enlarger.spots.measured = measured(fall_off(2.0))
    phone.send("/tests/evenness/keep", {})
    assert enlarger.trials().line("evenness").due.state == "fine"
    enlarger.show(bench=BENCH.model_copy(update={"focal_mm": 135.0}))
    assert enlarger.trials().line("evenness").due.why == "evenness.since-lens"
    assert "another lens is in" in words_of(phone.look("/tests"))
    enlarger.show(bench=BENCH.model_copy(update={"enlarger": "other"}))
    assert enlarger.trials().part(EvennessDesk).view().map is None, "what was measured there is none of this one's"
    assert enlarger.trials().line("evenness").due.state == "never"
    assert not any(isinstance(act, Load) for act, _ in enlarger.acts)


def test_another_light_source_makes_both_due(enlarger: StandInDesk, phone: Paired) -> None:
    """Its condenser changed for a diffuser: evenness and coverage are due, and say why."""
    shelf = enlarger.at_enlarger().enlargers()
    kept = shelf.keep(Enlarger(name="Attic", light_source="condenser"))
    bench = BENCH.model_copy(update={"enlarger": kept.id})
    enlarger.show(bench=bench)
    enlarger.spots.measured = [row.model_copy(update={"bench": bench}) for row in measured(fall_off(2.0))]
    phone.send("/tests/evenness/keep", {})
    assert [enlarger.trials().line(name).due.state for name in ("evenness", "coverage")] == ["fine", "fine"]
    shelf.keep(Enlarger(name="Attic", light_source="diffuser"), kept.id)
    for name in ("evenness", "coverage"):
        assert enlarger.trials().line(name).due.why == "evenness.since-source"  # type: ignore[arg-type]
    assert "another light source is in" in words_of(phone.look("/tests"))
