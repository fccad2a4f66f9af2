"""The table of readings as CSV: read, written, refused in a sentence; and what is wrong with them, step by step."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression
from tools.hidden_papers import exposure, of_the_family, outside, paper_one

from controller.errors import Unreadable
from controller.paper.faults import levelled, look_over
from controller.paper.readings import COLUMNS, Exposure, Reading, Readings, read_csv, read_rows, write_csv

HEADER = ",".join(COLUMNS)
GOOD = f"{HEADER}\npaper one,80.0,0,1,0.05,2.10\npaper one,80.0,0,2,0.20,2.09\n"


def test_the_example_tablet_is_read() -> None:
    """A file with three exposures of 21 steps gives them in order, as densitometer readings."""
    lights = [(80.0, 0.0), (0.0, 60.0), (40.4, 32.0)]
    kept = Readings(paper="paper one", exposures=tuple(exposure(paper_one(), *light) for light in lights))
    (found,) = read_csv(write_csv([kept]), "tablet.csv")
    assert [(each.soft_seconds, each.hard_seconds) for each in found.exposures] == lights
    assert [len(each.readings) for each in found.exposures] == [21, 21, 21]
    assert found.exposures[0].readings[6] == Reading(step=7, tablet_density=0.95, print_density=1.65)
    assert found.exposures[0].how == "densitometer"


figures = st.integers(0, 6000).map(lambda n: n / 1000)
lights = st.tuples(st.integers(0, 36000), st.integers(0, 36000)).filter(any).map(lambda s: (s[0] / 10, s[1] / 10))


@st.composite
def tables(draw: st.DrawFn) -> tuple[Readings, ...]:
    """Readings of one or two papers, several exposures each."""
    names = draw(st.lists(st.text("abc déß-1,\"'", min_size=1, max_size=12), min_size=1, max_size=2, unique=True))
    names = [f"x{name.strip()}" for name in names]
    kept = []
    for name in dict.fromkeys(names):
        exposures = []
        for soft, hard in draw(st.lists(lights, min_size=1, max_size=3, unique=True)):
            steps = draw(st.lists(st.integers(1, 99), min_size=2, max_size=6, unique=True))
            rows = [
                Reading(step=step, tablet_density=draw(figures), print_density=draw(st.integers(-50, 4000)) / 1000)
                for step in steps
            ]
            exposures.append(Exposure(soft_seconds=soft, hard_seconds=hard, readings=tuple(rows)))
        kept.append(Readings(paper=name, exposures=tuple(exposures)))
    return tuple(kept)


@given(kept=tables())
@settings(max_examples=40, deadline=None)
def test_written_and_read_again(kept: tuple[Readings, ...]) -> None:
    """Readings written as CSV and read again are the same readings, in the same order."""
    assert read_csv(write_csv(kept), "kept.csv") == kept


def test_a_table_for_a_thumb() -> None:
    """Rows from a page's table are read as a file's are, and a step left empty is one that was not read."""
    rows = [
        (
            n,
            {
                "paper": "p",
                "soft_seconds": "8",
                "hard_seconds": "0",
                "step": str(n),
                "tablet_density": f"{n}",
                "print_density": text,
            },
        )
        for n, text in enumerate(["2.1", "", "1.0", " ", "0.06"], 1)
    ]
    (found,) = read_rows(rows, "the table")
    assert [step.step for step in found.exposures[0].readings] == [1, 3, 5]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "has no readings"),
        (HEADER, "has no readings"),
        (GOOD.replace("step", "stap"), "column “stap”"),
        (GOOD.replace("step,", ""), "lacks the column “step”"),
        (GOOD.replace("tablet_density", "step"), "the column “step” twice"),
        (GOOD.replace(",", ";"), "something else than commas"),
        (GOOD.replace("2.10", "2,10"), "line 2: 7 values"),
        (GOOD.replace("2.10", "black"), "line 2: “print_density” cannot be “black”"),
        (GOOD.replace("2.10", "nan"), "line 2: “print_density” cannot be “nan”"),
        (GOOD.replace("2.10", "inf"), "line 2: “print_density” cannot be “inf”"),
        (GOOD.replace("2.10", "1e3"), "line 2: “print_density” cannot be “1e3”"),
        (GOOD.replace("2.10", "-0.5"), "line 2: “print_density” cannot be -0.5"),
        (GOOD.replace("2.10", "5"), "line 2: “print_density” cannot be 5"),
        (GOOD.replace("80.0", "-80"), "line 2: “soft_seconds” cannot be -80"),
        (GOOD.replace("80.0", "999999999999"), "line 2: “soft_seconds” cannot be"),
        (GOOD.replace("80.0", "0"), "line 2: neither soft nor hard seconds"),
        (GOOD.replace(",2,0.20", ",1.5,0.20"), "line 3: “step” 1.5 is no whole number"),
        (GOOD.replace(",2,0.20", ",1,0.20"), "step 1 of the print with 80 s soft and 0 s hard is there twice"),
        (GOOD.replace(",2,0.20", ",0,0.20"), "line 3: “step” cannot be 0"),
        (GOOD.replace("paper one", ""), "“paper” needs the paper’s name"),
        (GOOD.rsplit("\n", 2)[0] + "\n", "has only one step"),
        (GOOD.replace("paper one", '"paper one', 1), "quotation mark"),
        ("x" * 300_000, "larger than 256 kB"),
    ],
)
def test_bad_tables_are_refused(text: str, says: str) -> None:
    """A table that is not as it must be is refused with the file, the place and the remedy, and nothing is kept."""
    with pytest.raises(Unreadable) as refused:
        read_csv(text, "strip.csv")
    assert says in str(refused.value)
    assert str(refused.value).startswith("strip.csv")


def test_other_text_is_refused() -> None:
    """A file that is no text is refused, one with a byte order mark is not."""
    with pytest.raises(Unreadable, match="not plain text"):
        read_csv(b"\xff\xfe\x00p", "strip.csv")
    assert read_csv(b"\xef\xbb\xbf" + GOOD.encode(), "strip.csv")[0].paper == "paper one"


@given(values=st.lists(st.floats(-1.0, 3.0), min_size=1, max_size=30))
@settings(max_examples=80, deadline=None)
def test_levelling_is_scipys(values: list[float]) -> None:
    """Levelling gives the rising row nearest in squares, as scipy's isotonic regression does."""
    assert levelled(values) == pytest.approx(isotonic_regression(np.array(values)).x.tolist(), abs=1e-9)


def test_good_readings_have_no_faults() -> None:
    """Readings with a noise of 0.02 of papers whose whole curve lies on the tablet are found fault with rarely."""
    rng = np.random.default_rng(51)
    told = []
    for turn in range(60):
        hidden = of_the_family(rng) if turn % 2 else outside(rng)
        soft, hard = hidden.shares([0.0, 1.0, 0.5][turn % 3])
        told.append(bool(look_over(exposure(hidden, soft * 10**1.5, hard * 10**1.5, rng))))
    assert sum(told) <= 3


@pytest.mark.parametrize(("step", "off"), [(9, 0.3), (9, -0.3), (13, 0.3), (3, -0.4), (21, 0.3)])
def test_the_step_that_is_out_of_order_is_named(step: int, off: float) -> None:
    """One misread step is named, itself and no other, with what its neighbours read."""
    good = exposure(paper_one(), 80.0, 0.0, np.random.default_rng(52))
    wrong = tuple(
        each.model_copy(update={"print_density": each.print_density + off}) if each.step == step else each
        for each in good.readings
    )
    found = [each for each in look_over(good.model_copy(update={"readings": wrong})) if each.problem == "out-of-order"]
    assert [each.steps for each in found] == [(step,)]
    assert f"step {step} reads" in found[0].sentence
    assert f"Read step {step} again" in found[0].sentence


@pytest.mark.parametrize(
    ("seconds", "problem", "again"),
    [(1.0, "no-black", "8.0 s soft"), (10.0, "no-black", "20.0 s soft"), (2000.0, "no-white", "500.0 s soft")],
)
def test_missing_ends_are_named(seconds: float, problem: str, again: str) -> None:
    """A strip without white or black is told of, with the seconds to print it again with."""
    (found,) = look_over(exposure(paper_one(), seconds, 0.0))
    assert found.problem == problem
    assert again in found.sentence


def test_too_few_steps_are_named() -> None:
    """Few steps, and few greys between white and black, are told of."""
    good = exposure(paper_one(), 80.0, 0.0)
    few = good.model_copy(update={"readings": good.readings[::4]})
    assert "too-few" in {each.problem for each in look_over(few)}
    steep = exposure(paper_one(), 0.0, 60.0)
    coarse = tuple(each for each in steep.readings if not 0.2 < each.print_density < 1.9)
    assert {each.problem for each in look_over(steep.model_copy(update={"readings": coarse}))} == {"too-few-between"}
    middle = tuple(each for each in good.readings if 0.2 < each.print_density < 1.9)
    assert "whole-scale" in {each.problem for each in look_over(good.model_copy(update={"readings": middle}))}
