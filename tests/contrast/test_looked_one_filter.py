"""How did it look, through one filter: the time from the highlight, the number from the shadow."""

from __future__ import annotations

import sys
from decimal import Decimal

import pytest
from tools.fitted_papers import demo

from controller.contrast.how_it_looked import Looks
from controller.contrast.looked_one_filter import NewFilter, mend_one_filter
from controller.paper.emulsions import densities, mixture, thinnest
from controller.paper.ladder import TYPICAL, Ladder, Rung
from controller.paper.readings import Exposure, Reading

TWELVE = Decimal("12.0")
ORDER = [rung.filter for rung in TYPICAL.rungs]


def _ask(light: int, dark: int, **more: object) -> NewFilter:
    return mend_one_filter(Looks(light=light, dark=dark), "2", TWELVE, paper=demo(), **more)  # type: ignore[arg-type]


def test_right_stays() -> None:
    """Nothing is changed where both looked right."""
    found = _ask(0, 0)
    assert (found.filter, found.seconds, found.twelfths) == ("2", TWELVE, 0.0)


@pytest.mark.parametrize(("dark", "place"), [(-3, 1), (-2, 1), (2, -1), (3, -1)])
def test_the_shadow_gives_the_number(dark: int, place: int) -> None:
    """A shadow too light wants a harder filter, one too dark a softer: by as much as it was off, two at the most."""
    found = _ask(0, dark)
    moved = ORDER.index(found.filter) - ORDER.index("2")
    assert moved * place > 0
    assert abs(moved) <= 2
    assert found.matched


@pytest.mark.parametrize("light", [-3, -2, -1, 1, 2, 3])
def test_the_highlight_gives_the_time(light: int) -> None:
    """Off alike above and below, the time changes against what was seen, and the filter by one place at the most."""
    found = _ask(light, light)
    assert found.twelfths * light < 0
    assert abs(ORDER.index(found.filter) - ORDER.index("2")) <= (abs(light) > 1)


def test_another_filter_keeps_the_highlight() -> None:
    """Where the highlight was right it stays right through the new filter, which is matched at a middle grey.

    Reckoned apart from the module: the new filter's mix of lights, set to print 0.60 over white where the old one did.
    """
    found = _ask(0, -3)
    mix, lit = mixture(demo()), {}
    for name in ("2", found.filter):
        wanted = next(rung.range_exact for rung in TYPICAL.rungs if rung.filter == name)
        lit[name] = _mix_of(wanted)
    high = float(thinnest(mix, *lit["2"], mix.dmin + 0.08))
    middle = [float(thinnest(mix, *lit[name], mix.dmin + 0.60)) for name in ("2", found.filter)]
    more = 10.0 ** (middle[0] - middle[1]) * float(found.seconds) / 12.0
    soft, hard = lit[found.filter]
    assert float(densities(mix, soft * more, hard * more, high)) == pytest.approx(mix.dmin + 0.08, abs=0.02)


def _mix_of(wanted: float) -> tuple[float, float]:
    """Soft and hard seconds with this R on the demo paper, by halving."""
    from controller.paper.iso import range_of

    low, high = 0.0, 1.0
    for _ in range(60):
        share = (low + high) / 2
        low, high = (share, high) if range_of(mixture(demo()), 1.0 - share, 6.0 * share) > wanted else (low, share)
    return 1.0 - low, 6.0 * low


def test_filters_that_were_read_give_the_time() -> None:
    """Where both filters' prints of the tablet are there, the factor between them is theirs, and nothing is assumed."""

    def read(name: str, seconds: float, shift: float, steep: float) -> Exposure:
        tablet = [round(0.05 + 0.15 * n, 2) for n in range(21)]
        values = [0.05 + 2.05 / (1.0 + 10.0 ** (steep * (d - shift))) for d in tablet]
        rows = (
            Reading(step=n, tablet_density=d, print_density=round(v, 2))
            for n, (d, v) in enumerate(zip(tablet, values, strict=True), 1)
        )
        return Exposure(soft_seconds=seconds, hard_seconds=0.0, filter=name, readings=tuple(rows))

    def with_hard_filter(times: float) -> NewFilter:
        lights = read("2", 20.0, 1.3, 2.2), read("3", 20.0 * times, 1.3, 2.8)
        paper = demo().model_copy(update={"filters": lights})
        ladder = Ladder(source="own", rungs=(Rung(filter="2", range_exact=110.0), Rung(filter="3", range_exact=85.0)))
        return mend_one_filter(Looks(light=0, dark=-3), "2", TWELVE, paper=paper, ladder=ladder)

    one, twice = with_hard_filter(1.0), with_hard_filter(2.0)
    assert one.filter == twice.filter == "3"
    assert not one.matched
    assert float(twice.seconds) == pytest.approx(2.0 * float(one.seconds), rel=0.02)


def test_a_filter_of_no_set_keeps_its_number() -> None:
    """A filter that is not in the set is left in, and the time follows the highlight."""
    found = mend_one_filter(Looks(light=-1, dark=-3), "green", TWELVE, paper=demo())
    assert (found.filter, found.by) == ("green", "highlight")
    assert found.seconds > TWELVE


def test_no_filter_is_soft_enough() -> None:
    """At the softest filter a shadow too dark under a highlight too light is said to be beyond the set."""
    found = mend_one_filter(Looks(light=-3, dark=3), "00", TWELVE, paper=demo())
    assert found.filter == "00"
    assert "softer light" in found.why
    assert found.sentences[1] == "This filter comes nearest."


def test_without_the_libraries_the_time_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without numpy the filter stays and the answer says what it rests on."""
    monkeypatch.setitem(sys.modules, "scipy", None)
    found = _ask(-1, -3)
    assert (found.filter, found.by, found.seconds) == ("2", "highlight", Decimal("13.9"))
    assert "highlight alone" in found.sentences[0]


def test_a_flash_wants_more_of_the_rest() -> None:
    """A highlight a little too dark over a flash: the flash stays, so the print's own light has to give way further."""
    said = Looks(light=1, dark=1)
    bare = mend_one_filter(said, "2", Decimal(12))
    over = mend_one_filter(said, "2", Decimal(12), flash="just under")
    assert (bare.flash, over.flash) == ("", "just under")
    assert over.filter == bare.filter
    assert over.twelfths < bare.twelfths < 0
    assert any("just under" in sentence for sentence in over.sentences)
