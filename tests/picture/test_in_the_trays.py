"""Time in the developer makes the blacks, and no light may find a print before the fix."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.picture_darkroom import recipe, steady, worked
from tools.through_trays import MS, entered_ns, through_trays

from controller.picture.develop import Conditions, Developed, develop_sheet, sheet_light
from controller.picture.in_the_trays import (
    appears_s,
    bath_of,
    development_for,
    development_of,
    share_at,
)
from controller.picture.invented import invented
from controller.picture.light import BlueGreen, Surroundings
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import Scene
from controller.store.records import SheetRecord
from hardware.practice.log import GlowSwitched
from hardware.practice.meter import Edge

S = 10**9
SCENE = Scene((invented("crane"),), open_mm=(220.0, 170.0), pixels=12_000)
RECORD = worked(recipe(("2", 12.0))).records[0]
LONG = recipe(("2", 100.0))
BLACK = worked(LONG, steady(LONG, 200.0)).records[0]
NO_LIGHT = Conditions(surroundings=Surroundings(safelight=BlueGreen(blue=0.0, green=0.0)))
DEVELOPERS = st.sampled_from(["fresh", "cold", "tired"])
SUPPORTS = st.sampled_from(["RC", "FB"])


def made(record: SheetRecord, paper: str = "one", conditions: Conditions = NO_LIGHT, edges=None, log=()) -> Developed:
    return develop_sheet(record, log, SCENE, practice_paper(paper), conditions, edges=edges)


def white(sheet: Developed) -> float:
    """The edge under the easel's blades, which only fog darkens."""
    return float(sheet.dry[2:5, 2:5].mean())


class TestTheDeveloper:
    def test_its_least_time_by_the_handbook(self) -> None:
        """Of 100, 140, 200 and 280 s on FB, 140 equals 200 in black, 100 falls short, and 280 fogs.

        Source: *Photography: Theory and Practice* §556, the developer's least time; 0.03 is what the eye sees as grey
        beside paper white, and twice that as less than black (common practice).
        """
        sheets = {
            seconds: made(through_trays(BLACK, "FB", developer_s=seconds), "two") for seconds in (100, 140, 200, 280)
        }
        black = {seconds: float(sheet.wet.max()) for seconds, sheet in sheets.items()}
        assert black[140] == pytest.approx(black[200], abs=0.01)
        assert black[200] - black[100] > 0.06
        assert white(sheets[200]) == pytest.approx(0.05, abs=1e-6)
        assert white(sheets[280]) - 0.05 > 0.03

    @pytest.mark.parametrize(
        ("seconds", "share"),
        # by hand: (1 − e^(−5.5·(t/90 − 0.1))) / (1 − e^(−4.95))
        [(9, 0.0), (18, 0.42607), (30, 0.72805), (45, 0.89554), (90, 1.0), (120, 1.0)],
    )
    def test_density_grows_by_the_law(self, seconds: float, share: float) -> None:
        """What is still wanting falls by the same factor in the same time, and nothing shows before the appearance.

        Source: D = D∞(1 − e^(−k(t − t₀))), Sheppard and Mees (from memory).
        """
        assert share_at(seconds, "RC", bath_of("fresh")) == pytest.approx(share, abs=2e-5)
        wanting = [1 - 0.99292 * share_at(each, "RC", bath_of("fresh")) for each in (20, 30, 40, 50)]
        assert [two / one for one, two in pairwise(wanting)] == pytest.approx([np.exp(-5.5 / 9)] * 3, rel=1e-3)

    def test_every_tone_keeps_its_share(self) -> None:
        """Taken out early, a print has the same share of its density in every tone (constant density ratios)."""
        full, early = made(through_trays(RECORD)), made(through_trays(RECORD, developer_s=25))
        shares = (early.dry - 0.05)[full.dry > 0.1] / (full.dry - 0.05)[full.dry > 0.1]
        assert shares == pytest.approx(share_at(25, "RC", bath_of("fresh")), abs=1e-4)
        assert early.density("under_cab") < full.density("under_cab") - 0.3

    def test_the_usual_time_is_the_print_as_it_always_was(self) -> None:
        """After its usual time a sheet is to the last bit what it is without trays, on either support."""
        for paper, support in (("one", "RC"), ("two", "FB")):
            trays, none = made(through_trays(RECORD, support), paper), made(RECORD, paper)
            assert np.array_equal(trays.dry, none.dry)
            assert np.array_equal(trays.wet, none.wet)

    @settings(max_examples=60, deadline=None)
    @given(st.floats(0, 900), st.floats(0, 900), SUPPORTS, DEVELOPERS, st.floats(10, 35))
    def test_longer_is_never_lighter(self, one, two, support, developer, celsius) -> None:
        """More time in a developer brings no less density and no less fog; none has more than all of it."""
        short, long = (development_for(each, support, bath_of(developer, celsius)) for each in sorted((one, two)))
        assert 0 <= short.share <= long.share <= 1
        assert 0 <= short.fog <= long.fog <= 1

    @settings(max_examples=40, deadline=None)
    @given(SUPPORTS, DEVELOPERS, st.floats(10, 35))
    def test_ten_times_the_appearance_is_developed(self, support, developer, celsius) -> None:
        """Whatever slows a developer, ten times its first appearance brings all that it can."""
        bath = bath_of(developer, celsius)
        first = appears_s(support, bath)
        assert share_at(first * 0.99, support, bath) == 0
        assert share_at(first * 1.02, support, bath) > 0
        assert share_at(first * 10, support, bath) == pytest.approx(bath.reaches)

    def test_cold_and_tired_are_slow(self) -> None:
        """Either shows its image half as fast (slow is 1.5 times the usual); a tired one never gives a full black."""
        usual = appears_s("RC", bath_of("fresh"))
        assert usual == 9.0  # with factor 15: 135 s, as in the *Cyclopaedia of Photography*
        for developer in ("cold", "tired"):
            assert appears_s("RC", bath_of(developer)) >= 1.5 * usual
            thin = made(through_trays(BLACK), conditions=NO_LIGHT.model_copy(update={"developer": developer}))
            assert thin.dry.max() < 2.0
        assert share_at(900, "RC", bath_of("tired")) == 0.85
        assert share_at(180, "RC", bath_of("cold")) == 1
        assert share_at(45, "RC", bath_of("fresh", 30.0)) == 1

    def test_one_that_was_followed_no_further_is_developed_as_is_usual(self) -> None:
        """After a power cut the printer goes on; what is known of its time in the developer counts before that."""
        cut = through_trays(RECORD, last="developer", lay_s=20)
        assert development_of(cut.trays, "RC").seconds == 90
        assert development_of(through_trays(RECORD, last="on its way", lay_s=3).trays, "RC").seconds == 90
        over = through_trays(RECORD, developer_s=30, last="drain", lay_s=3)
        assert development_of(over.trays, "RC").seconds == 30
        assert development_of((), "RC").full


class TestLightBeforeTheFix:
    @pytest.mark.parametrize("hurry", [1, 20, 1000])
    def test_the_safelight_counts_until_the_fix(self, hurry: int) -> None:
        """RC is 130 s from the close to the fix, FB 205 s; a clock that is hurried tells the process's own seconds."""
        for support, seconds in (("RC", 130.0), ("FB", 205.0)):
            trays = through_trays(RECORD, support, hurry=hurry)
            with_trays, without = (sheet_light(each, (), Conditions(), ()).fog for each in (trays, RECORD))
            assert with_trays.green - without.green == pytest.approx(4e-5 * seconds, rel=1e-6)

    @pytest.mark.parametrize(
        ("tray", "fogged"), [("developer", True), ("drain", True), ("fix 1", False), ("wash", False)]
    )
    @pytest.mark.parametrize("what", ["focus light", "room light", "phone"])
    def test_white_light_before_the_fix_is_seen(self, tray: str, fogged: bool, what: str) -> None:
        """Ten seconds of it turn a print grey that is in the developer or drains, and leave one alone that is fixed."""
        record = through_trays(RECORD, "FB")
        on, off = entered_ns(record, tray) + S, entered_ns(record, tray) + 11 * S
        first = RECORD.steps[0].parts[0].on_ns
        own = [Edge(first, True), Edge(first + 12 * S, False)]
        edges, log = [*own], []
        if what == "focus light":
            edges += [Edge(on, True), Edge(off, False)]
        else:
            log = [GlowSwitched(on, what, True), GlowSwitched(off + 60 * S * (what == "phone"), what, False)]
        alone = white(made(record, edges=own))
        after = white(made(record, edges=edges, log=log))
        assert (after > alone + 0.03) is fogged
        if not fogged:
            assert after == pytest.approx(alone, abs=1e-6)

    @pytest.mark.parametrize("support", ["RC", "FB"])
    def test_no_paper_in_the_trays_said_untruly_fogs_it(self, support) -> None:
        """Who asks for white light while a print lies in the developer finds it black; once it is fixed, as it was."""
        lied = through_trays(RECORD, support, last="developer", lay_s=20, given_up=True)
        assert white(made(lied)) > 1.0
        first_fix = "fix" if support == "RC" else "fix 1"
        true = through_trays(RECORD, support, last=first_fix, lay_s=1, given_up=True)
        assert white(made(true)) == pytest.approx(0.05, abs=1e-6)
        cut = through_trays(RECORD, support, last="developer", lay_s=20)
        assert white(made(cut)) == pytest.approx(0.05, abs=1e-6)

    def test_light_after_the_close_without_trays_is_no_business_of_the_sheet(self) -> None:
        """Where nobody follows a print, it is as it always was, whatever is lit after the close."""
        log = [GlowSwitched(RECORD.closed.at_ns + S, "room light", True)]
        assert np.array_equal(made(RECORD, log=log).dry, made(RECORD).dry)


def test_a_unit_of_ms() -> None:
    """The helper's trays lie end to end, as a process has them."""
    trays = through_trays(RECORD, "FB").trays
    assert [(one.out_ns, two.in_ns) for one, two in pairwise(trays)] == [(two.in_ns, two.in_ns) for two in trays[1:]]
    assert sum(each.lay_ms for each in trays) * MS == trays[-1].out_ns - trays[0].in_ns
