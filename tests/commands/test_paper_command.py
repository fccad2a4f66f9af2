"""`treadle paper`: its four kinds, their keys, and their refusals in one sentence."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tools.hidden_papers import exposure, outside, paper_one

from controller.commands.paper import add_arguments, answer
from controller.errors import ControllerError, Impossible, Unreadable
from controller.paper.paper import read_paper
from controller.paper.readings import Readings, write_csv

Ask = Callable[..., dict[str, Any]]


def _args(*words: object) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="treadle")
    add_arguments(parser.add_subparsers(dest="command", required=True))
    return parser.parse_args([str(word) for word in ("paper", *words)])


def _ask(*words: object) -> dict[str, Any]:
    told = answer(_args(*words))
    assert all(isinstance(line, str) and line for line in told.lines())
    return json.loads(told.model_dump_json())


@pytest.fixture
def tablet(tmp_path: Path) -> Path:
    """The demo paper's three prints of a tablet as a file."""
    lights = [(80.0, 0.0), (0.0, 60.0), (40.4, 32.0)]
    kept = Readings(paper="paper one", exposures=tuple(exposure(paper_one(), *light) for light in lights))
    file = tmp_path / "paper-one.tablet.csv"
    file.write_text(write_csv([kept]), encoding="utf-8")
    return file


@pytest.fixture
def paper(tablet: Path, tmp_path: Path) -> Path:
    """The demo paper, fitted and kept."""
    file = tmp_path / "paper.json"
    _ask("fit", tablet, "--out", file)
    return file


def test_curve(tablet: Path) -> None:
    """Every exposure of a file has its white, black, range, grade and speed point under its key."""
    every = _ask("curve", tablet, "--json")["exposures"]
    assert [each["range_exact"] for each in every] == pytest.approx([140.6, 61.1, 110.0], abs=2.0)
    assert [each["range"] for each in every] == [140, 60, 110]
    assert [each["grade"] for each in every] == [0, 5, 2]
    for each, light in zip(every, ((80.0, 0.0), (0.0, 60.0), (40.4, 32.0)), strict=True):
        assert (each["soft_seconds"], each["hard_seconds"]) == light
        assert each["dmin"] == pytest.approx(0.05, abs=0.01)
        assert each["dmax"] == pytest.approx(2.10, abs=0.01)
        tablet_density = each["speed_point_tablet_density"]
        assert paper_one().densities(*light, np.array(tablet_density)) == pytest.approx(0.65, abs=0.02)
        assert each["speed_point_stops"] == pytest.approx(-tablet_density / 0.30103, abs=0.01)
        assert each["speed"] is None
        assert each["faults"] == []


def test_curve_with_known_light(tablet: Path) -> None:
    """With the light at the easel told, P = 1000/H_m."""
    first = _ask("curve", tablet, "--lux-seconds", "400")["exposures"][0]
    assert first["speed"] == pytest.approx(1000 / (400 * 10 ** -first["speed_point_tablet_density"]), rel=1e-3)


def test_curve_past_the_grades(tmp_path: Path) -> None:
    """A curve with no grade in the table says so in words."""
    steps = 0.05 + 0.15 * np.arange(21)
    printed = 0.05 + 2.0 / (1 + np.exp(-14.0 * (1.4 - steps)))
    rows = "".join(f"p,10,0,{n},{d:.2f},{v:.2f}\n" for n, (d, v) in enumerate(zip(steps, printed, strict=True), 1))
    file = tmp_path / "hard.csv"
    file.write_text("paper,soft_seconds,hard_seconds,step,tablet_density,print_density\n" + rows)
    assert _ask("curve", file)["exposures"][0]["grade"] == "harder than 5"


def test_fit_keeps_a_paper(tablet: Path, tmp_path: Path) -> None:
    """A fit writes the paper as the program keeps it and says how well it fits, in figures and in one sentence."""
    out = tmp_path / "kept" / "paper.json"
    out.parent.mkdir()
    told = _ask("fit", tablet, "--out", out, "--json")
    kept = read_paper(out.read_bytes(), out.name)
    assert told["rms_density"] == pytest.approx(kept.rms_density, abs=1e-4)
    assert told["worst_density"] == pytest.approx(kept.worst_density, abs=1e-4)
    assert told["rms_density"] <= 0.005
    assert told["plain"] == "As near as an eye can tell."
    assert told["advice"] == []
    assert kept.name == "paper one"
    assert kept.readings is not None
    assert len(kept.readings.exposures) == 3


def test_fit_of_one_light_says_what_is_missing(tmp_path: Path) -> None:
    """With soft readings alone the paper is kept, but which strip to print is said."""
    file = tmp_path / "soft.csv"
    strip = exposure(paper_one(), 80.0, 0.0, np.random.default_rng(81))
    file.write_text(write_csv([Readings(paper="p", exposures=(strip,))]))
    told = _ask("fit", file, "--out", tmp_path / "p.json")
    assert told["plain"] == "The readings do not tell."
    assert "cannot support this" in told["advice"][-1]
    assert "hard" in told["advice"][-1]


def test_predict(paper: Path) -> None:
    """Predicted densities are the hidden paper's, in the order asked, each with its spread."""
    told = _ask("predict", paper, "--soft", "10.1", "--hard", "8.0", "--negative", "0.22,0.55,1.25", "--json")
    assert told["densities"] == pytest.approx(paper_one().densities(10.1, 8.0, [0.22, 0.55, 1.25]).tolist(), abs=0.02)
    assert told["range"] == 110
    assert len(told["spreads"]) == 3
    alone = _ask("predict", paper, "--hard", "8", "--negative", "0.22")
    assert alone["densities"] == pytest.approx(paper_one().densities(0.0, 8.0, [0.22]).tolist(), abs=0.02)


def test_soft_hard(paper: Path) -> None:
    """The seconds for two tones print them so on the hidden paper; predicted says the same."""
    told = _ask("soft-hard", paper, "--light", "1.25=0.12", "--dark", "0.22=1.95", "--json")
    printed = paper_one().densities(told["soft"], told["hard"], [1.25, 0.22])
    assert printed == pytest.approx([0.12, 1.95], abs=0.02)
    assert [told["predicted"]["light"], told["predicted"]["dark"]] == pytest.approx([0.12, 1.95], abs=0.001)
    assert told["range"] == 10 * round(told["range_exact"] / 10)
    assert "typical set" in told["filter"]


def test_soft_hard_out_of_reach(paper: Path) -> None:
    """What cannot be had says why, and the nearest that can."""
    told = _ask("soft-hard", paper, "--light", "1.25=0.3", "--dark", "0.22=1.0")
    assert told["why"].startswith("This needs softer light than the soft filter gives")
    near = told["nearest"]
    assert near["hard"] == 0.0
    printed = paper_one().densities(near["soft"], near["hard"], [1.25, 0.22])
    assert [near["predicted"]["light"], near["predicted"]["dark"]] == pytest.approx(printed.tolist(), abs=0.02)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("predict", "PAPER", "--negative", "0.2"), "Neither --soft nor --hard"),
        (("predict", "PAPER", "--soft", "ten", "--negative", "0.2"), "--soft cannot be “ten”"),
        (("predict", "PAPER", "--soft", "nan", "--negative", "0.2"), "--soft cannot be “nan”"),
        (("predict", "PAPER", "--soft", "1e9", "--negative", "0.2"), "--soft cannot be “1e9”"),
        (("predict", "PAPER", "--soft", "-1", "--negative", "0.2"), "--soft cannot be “-1”"),
        (("predict", "PAPER", "--soft", "9", "--negative", "0.2,,3"), "--negative cannot be “”"),
        (("predict", "PAPER", "--soft", "9", "--negative", "9"), "--negative cannot be “9”"),
        (("soft-hard", "PAPER", "--light", "1.25", "--dark", "0.22=1.95"), "--light cannot be “1.25”"),
        (("soft-hard", "PAPER", "--light", "0.2=0.1", "--dark", "1.2=1.9"), "Swap the two"),
        (("curve", "TABLET", "--lux-seconds", "0"), "--lux-seconds cannot be “0”"),
        (("curve", "PAPER"), "a column"),
        (("predict", "TABLET", "--soft", "9", "--negative", "1"), "is not JSON"),
    ],
)
def test_bad_words_are_refused(words: tuple[str, ...], says: str, tablet: Path, paper: Path) -> None:
    """A word that cannot be is refused with its option and what it may be."""
    files = {"PAPER": paper, "TABLET": tablet}
    with pytest.raises(ControllerError) as refused:
        answer(_args(*(files.get(word, word) for word in words)))
    assert says in str(refused.value)


def test_two_papers_are_not_fitted_together(tmp_path: Path) -> None:
    """A file of two papers' readings is refused by fit, nothing written, but its curves can be drawn."""
    one = Readings(paper="one", exposures=(exposure(paper_one(), 80.0, 0.0),))
    two = one.model_copy(update={"paper": "two"})
    file = tmp_path / "both.csv"
    file.write_text(write_csv([one, two]))
    with pytest.raises(Unreadable, match="one, two"):
        answer(_args("fit", file, "--out", tmp_path / "p.json"))
    assert not (tmp_path / "p.json").exists()
    assert [each["paper"] for each in _ask("curve", file)["exposures"]] == ["one", "two"]


def test_what_will_not_fit_leaves_no_file(tmp_path: Path) -> None:
    """Readings that are all grey are refused and leave what was there before."""
    out = tmp_path / "p.json"
    out.write_text("what was there before")
    file = tmp_path / "grey.csv"
    rows = "".join(f"p,10,0,{n},{n / 10},1.0\n" for n in range(1, 12))
    file.write_text("paper,soft_seconds,hard_seconds,step,tablet_density,print_density\n" + rows)
    with pytest.raises(Impossible, match="both white and black"):
        answer(_args("fit", file, "--out", out))
    assert out.read_text() == "what was there before"


def test_faults_are_told_with_the_figures(tmp_path: Path) -> None:
    """A misread step is told of beside the curve's figures."""
    good = exposure(outside(np.random.default_rng(82)), 80.0, 0.0)
    rows = tuple(each.model_copy(update={"print_density": 2.0}) if each.step == 15 else each for each in good.readings)
    file = tmp_path / "slip.csv"
    file.write_text(write_csv([Readings(paper="p", exposures=(good.model_copy(update={"readings": rows}),))]))
    assert any("step 15 reads 2.00" in fault for fault in _ask("curve", file)["exposures"][0]["faults"])


def test_without_scipy_it_is_said(tablet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where scipy is not installed, the command says how to install it."""
    monkeypatch.setitem(sys.modules, "scipy", None)
    with pytest.raises(Impossible, match="needs numpy and scipy"):
        answer(_args("curve", tablet))


# ---- verdict


_HAD = ("--soft", "12.0", "--hard", "4.4", "--light", "1.334=0.13", "--dark", "0.157=1.93")


def test_verdict(paper: Path) -> None:
    """A print a little light above and right below: the pair for the next, and its change in twelfths of a stop."""
    told = _ask("verdict", paper, *_HAD, "--looked-light", "a little light", "--looked-dark", "right")
    assert told == {"soft": 13.9, "hard": 3.4, "twelfths": {"soft": 2.5, "hard": -4.5}}
    lines = answer(_args("verdict", paper, *_HAD, "--looked-light", "a little light", "--looked-dark", "right")).lines()
    assert lines == ("soft 13.9 s, hard 3.4 s", "soft +2.5, hard −4.5 twelfths of a stop")


def test_verdict_that_no_pair_mends(paper: Path) -> None:
    """Where no pair mends it the nearest stands under the same keys, with the reason beside it."""
    told = _ask("verdict", paper, *_HAD, "--looked-light", "far light", "--looked-dark", "far dark")
    assert set(told) == {"soft", "hard", "twelfths", "why"}
    assert "softer light" in told["why"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--looked-light", "pale"), "--looked-light cannot be “pale”"),
        (("--looked-dark", "very dark"), "--looked-dark cannot be “very dark”"),
        (("--soft", "-1"), "--soft cannot be “-1”"),
        (("--soft", "0", "--hard", "0"), "Neither --soft nor --hard"),
        (("--hard", "nan"), "--hard cannot be “nan”"),
        (("--light", "1.334"), "--light cannot be “1.334”"),
        (("--light", "0.1=0.13"), "0.10"),
        (("--dark", "0.157=2.5"), "2.10"),
        (("--light", "1.334=0.01"), "0.05"),
    ],
)
def test_verdicts_of_bad_input(paper: Path, words: tuple[str, ...], said: str) -> None:
    """What cannot be meant is refused in one sentence that names it; the last of a flag counts."""
    with pytest.raises(ControllerError) as refused:
        answer(_args("verdict", paper, *_HAD, "--looked-light", "right", "--looked-dark", "a little light", *words))
    assert said in str(refused.value)


def test_a_condenser_multiplies_both_densities(paper: Path) -> None:
    """Q 1.2 gives what densities times 1.2 give, key by key; 1 and no Q are one."""
    told = _ask("soft-hard", paper, "--light", "1.25=0.13", "--dark", "0.22=1.93", "--callier", "1.2", "--json")
    assert told == _ask("soft-hard", paper, "--light", "1.5=0.13", "--dark", "0.264=1.93", "--json")
    bare = _ask("soft-hard", paper, "--light", "1.25=0.13", "--dark", "0.22=1.93", "--json")
    assert bare == _ask("soft-hard", paper, "--light", "1.25=0.13", "--dark", "0.22=1.93", "--callier", "1,0")
    assert np.log2(told["soft"] / bare["soft"]) == pytest.approx(0.97, abs=0.02)
    for wrong in ("0.9", "1.7", "condenser"):
        with pytest.raises(Unreadable, match="--callier"):
            _ask("soft-hard", paper, "--light", "1.25=0.13", "--dark", "0.22=1.93", "--callier", wrong)


def test_a_flash_is_taken_in(paper: Path) -> None:
    """The keys are as before and `flash_alone` joins; without a flash it is not there."""
    tones = "--light", "1.35=0.13", "--dark", "0.20=1.93"
    bare = _ask("soft-hard", paper, *tones, "--json")
    told = _ask("soft-hard", paper, *tones, "--flash", "0.3", "--json")
    assert set(told) - set(bare) == {"flash_alone"}
    assert (told["soft"], told["hard"]) == pytest.approx((4.8, 10.2), abs=0.1)
    assert told["flash_alone"] == pytest.approx(
        float(paper_one().densities(0.0, 0.0, 0.0, soft_flash=0.3)) - 0.05, abs=0.002
    )
    assert told == _ask("soft-hard", paper, *tones, "--flash", "0,30", "--flash-filter", "soft", "--json")
    hard = _ask("soft-hard", paper, *tones, "--flash", "0.3", "--flash-filter", "hard", "--json")
    assert hard["soft"] > told["soft"]
    with pytest.raises(Impossible, match=r"0\.50 s through the soft filter prints"):
        _ask("soft-hard", paper, *tones, "--flash", "0.5")
    with pytest.raises(Unreadable, match="--flash"):
        _ask("soft-hard", paper, *tones, "--flash", "-1")


def test_out_of_reach_names_the_least_flash(paper: Path) -> None:
    """A tone out of reach says which flash would reach it, and over that flash it is had."""
    tones = "--light", "1.60=0.13", "--dark", "0.20=1.93"
    told = _ask("soft-hard", paper, *tones, "--json")
    assert told["least_flash"] == pytest.approx(0.1)
    assert "soft" in _ask("soft-hard", paper, *tones, "--flash", told["least_flash"])
    assert "least_flash" not in _ask("soft-hard", paper, "--light", "1.25=1.2", "--dark", "0.22=1.9")
