"""`treadle calc`: figures under their keys, lines for people, and refusals in a sentence."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.commands.calc import add_arguments, answer
from controller.errors import ControllerError, Impossible
from controller.exposure.quantities import Answer
from controller.recipe.compile_recipe import compile_strip
from controller.recipe.files import read_tree
from controller.recipe.strip import Strip


def _answer(line: str) -> Answer:
    parser = ArgumentParser(prog="treadle")
    add_arguments(parser.add_subparsers(dest="command"))
    return answer(parser.parse_args(["calc", *line.split()]))


def _json(line: str) -> dict[str, Any]:
    told = json.loads(_answer(line).model_dump_json())
    assert isinstance(told, dict)
    return told


@pytest.mark.parametrize(
    ("line", "figures"),
    [
        (
            "strip --centre 12 --step 1/3 --bands 7",
            {"totals": [6.0, 7.6, 9.5, 12.0, 15.1, 19.0, 24.0], "pulses": [6.0, 1.6, 1.9, 2.5, 3.1, 3.9, 5.0]},
        ),
        (
            "strip --centre 12 --step 1/3 --bands 7 --card uncover",
            {"totals": [6.0, 7.6, 9.5, 12.0, 15.1, 19.0, 24.0], "pulses": [5.0, 3.9, 3.1, 2.5, 1.9, 1.6, 6.0]},
        ),
        (
            "strip --every 3 --bands 7 --card window --json",
            {"totals": [3, 6, 9, 12, 15, 18, 21], "pulses": [3, 6, 9, 12, 15, 18, 21]},
        ),
        ("burn --base 10.1 --stops 2/3", {"seconds": 5.9}),
        ("dodge --base 8 --stops 1/3", {"held_back": 1.7, "open": 6.3}),
        ("size --from 2.0 --to 2.75", {"factor": 1.5625, "stops": 0.6439, "area_rule": 1.8906}),
        (
            "size --negative-mm 120 --from-mm 240 --to-mm 330",
            {"factor": 1.5625, "stops": 0.6439, "area_rule": 1.8906},
        ),
        ("size --from 2 --to 4 --pupil 2", {"factor": 2.25, "stops": 1.1699, "area_rule": 4}),
        ("aperture --from 8 --to 5.6", {"factor": 0.5, "stops": -1}),
        ("aperture --from 5.6 --to 6.3", {"factor": 1.2599, "stops": 0.3333}),
        ("dry-down --percent 8 --seconds 20", {"seconds": 18.4}),
        ("between 9.5 12.0", {"seconds": 10.7}),
        ("lag --long 8 --pulses 8 --each 1.105", {"seconds": 0.12}),
        ("first-strip --proof 15 --from-m 2 --to-m 2.75", {"centre": 23.4, "factor": 1.5625}),
        ("first-strip --proof 15 --from-m 2 --to-m 4", {"centre": 41.7, "factor": 25 / 9}),
        ("first-strip --proof 15 --from-m 2 --to-m 2.75 --from-f 8 --to-f 5.6", {"centre": 11.7, "factor": 0.78125}),
        (
            "first-strip --proof 15 --from-m 2 --to-m 2 --from-f 8 --to-f 8 --look 1/2 --k -0.5",
            {"centre": 15.0, "factor": 1.0},
        ),
        ("first-strip --proof 15 --from-m 2 --to-m 2 --look -1", {"centre": 7.5, "factor": 0.5}),
        # a worked example as published: f/5.6, circle 0.5 mm, six times: 1.09 mm
        ("depth --f 5.6 --circle 0.5 --m 6", {"depth_mm": 1.09}),
        ("depth --f 8 --circle 0,2 --m 1", {"depth_mm": 6.4}),
        # Cyclopaedia of Photography, factorial development: appearance at 9 s, factor 15
        ("develop --appearance 9 --factor 15", {"seconds": 135.0}),
        # US Army TM 11-2323, p. 145: fix and wash take twice as long at 50 °F (10 °C) as at 68 °F (20 °C)
        ("cold --seconds 60 --celsius 10", {"seconds": 120.0}),
        ("cold --seconds 300 --celsius 24", {"seconds": 300.0}),
        ("spread --reference 10.1,8.0 --given 10.4,7.9", {"spread_stops": 0.042, "steps": [0.042, -0.018]}),
        ("spread --reference 10.1,8.0 --given 10.1,4", {"spread_stops": -1.0, "steps": [0.0, -1.0]}),
        ("column --focal 150 --m 2", {"distance_mm": 675.0}),
        ("column --focal 150 --m 2 --reading 640", {"distance_mm": 675.0, "offset_mm": 35.0}),
        ("column --focal 150 --offset 35 --reading 902.5", {"magnification": 4.0}),
        ("column --focal 50 --offset -12,5 --reading 212.5", {"magnification": 1.0}),
    ],
)
def test_each_kind_answers_under_its_keys(line: str, figures: dict[str, Any]) -> None:
    """Each kind of reckoning gives exactly its figures, under exactly its keys."""
    assert _json(line) == figures


@pytest.mark.parametrize(
    ("line", "lines"),
    [
        (
            "strip --every 3 --bands 3",
            ("totals  3.0  6.0  9.0", "pulses  3.0  3.0  3.0"),
        ),
        ("burn --base 10.1 --stops 1", ("10.1 s",)),
        ("dodge --base 8 --stops 1/3", ("held back 1.7 s, open 6.3 s",)),
        ("aperture --from 8 --to 5.6", ("× 0.5, −1 stops",)),
    ],
)
def test_a_person_gets_lines(line: str, lines: tuple[str, ...]) -> None:
    """Without --json the same figures are lines with their units."""
    assert _answer(line).lines() == lines


def test_size_warns_of_the_rule_of_areas() -> None:
    """A change of size tells what the rule of areas would say, and when it is right."""
    factor, warning = _answer("size --from 2 --to 4").lines()
    assert factor == "× 2.7778, +1.47 stops"
    assert "× 4.0" in warning


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("strip --bands 7", "--centre and --step"),
        ("strip --centre 12 --bands 7", "--centre and --step"),
        ("strip --every 3 --centre 12 --step 1/3 --bands 7", "not both"),
        ("strip --every 3 --step 1/3 --bands 7", "not both"),
        ("strip --every 3", "--bands is missing"),
        ("strip --every 3 --bands 25", "--bands is “25”"),
        ("strip --every 3 --bands 2.5", "--bands is “2.5”"),
        ("strip --every nan --bands 5", "--every is “nan”"),
        ("strip --every inf --bands 5", "--every is “inf”"),
        ("strip --every 0 --bands 5", "--every is “0”"),
        ("strip --every 3s --bands 5", "--every is “3s”"),
        ("strip --every 3.0001 --bands 5", "--every is “3.0001”"),
        ("strip --centre 12 --step third --bands 7", "“third” is not stops"),
        ("strip --centre 1 --step 1/12 --bands 7", "come out alike"),
        ("burn --stops 1", "--base is missing"),
        ("burn --base 10", "--stops is missing"),
        ("burn --base 10 --stops=-1", "more than 0"),
        ("burn --base 10 --stops -1/3", "“-1/3” is not more than no stops"),
        ("dodge --base 1e9 --stops 1", "--base is “1e9”"),
        ("size --from 2", "--from and --to"),
        ("size --from 2 --to 3 --to-mm 240", "not both"),
        ("size --from 0 --to 3", "--from is “0”"),
        ("size --from 2 --to 3 --pupil x", "--pupil is “x”"),
        ("aperture --from 8", "--to is missing"),
        ("aperture --from f/8 --to 4", "--from is “f/8”"),
        ("dry-down --percent 80 --seconds 20", "--percent is “80”"),
        ("between 9.5 x", "“x”"),
        ("lag --long 8 --pulses 1 --each 8", "--pulses is “1”"),
        ("lag --long 8 --pulses 8 --each 0.9", "make the train again"),
        ("first-strip --from-m 2 --to-m 4", "--proof is missing"),
        ("first-strip --proof 15 --to-m 4", "--from-m is missing"),
        ("first-strip --proof 15 --from-m 2 --to-m 0", "--to-m is “0”"),
        ("first-strip --proof 15 --from-m 2 --to-m 4 --from-f 8", "both --from-f and --to-f"),
        ("first-strip --proof 15 --from-m 2 --to-m 4 --look 4/3", "--look is “4/3”, and must be stops from -1 to 1"),
        ("first-strip --proof 15 --from-m 2 --to-m 4 --k nan", "“nan” is not stops"),
        ("first-strip --proof 0.1 --from-m 40 --to-m 1", "stop down"),
        # a worked example as published: f/5.6, circle 0.5 mm, six times: 1.09 mm
        ("depth --f 5.6 --circle 0.5", "--m is missing"),
        # a worked example as published: f/5.6, circle 0.5 mm, six times: 1.09 mm
        ("depth --f 5.6 --circle 0 --m 6", "--circle is “0”"),
        ("develop --appearance 1.9 --factor 15", "--appearance is “1.9”"),
        ("develop --appearance 9 --factor 0", "--factor is “0”"),
        ("cold --seconds 60 --celsius 9", "--celsius is “9”"),
        ("cold --seconds 60", "--celsius"),
        ("spread --given 10", "--reference is missing"),
        ("spread --reference 10.1,8 --given 10.1", "--reference has 2 steps and --given has 1"),
        ("spread --reference 10.1,0 --given 10,8", "--reference is “0”"),
        ("spread --reference 10.1,,8 --given 10,8", "--reference is “”"),
        (f"spread --reference {'1,' * 60}1 --given 1", "--reference has 61 times"),
        ("column --m 2", "--focal is missing"),
        ("column --focal 150", "--m, or --offset and --reading"),
        ("column --focal 150 --reading 640", "--m, or --offset and --reading"),
        ("column --focal 150 --m 2 --offset 35 --reading 640", "not both"),
        ("column --focal 150 --m 0.5", "--m is “0.5”"),
        ("column --focal 150 --m inf", "--m is “inf”"),
        ("column --focal 150 --offset 0 --reading 599.9", "599.9 mm"),
    ],
)
def test_bad_input_is_refused_in_a_sentence(line: str, said: str) -> None:
    """Bad input is refused in one sentence that names the option and what it takes."""
    with pytest.raises(ControllerError) as refused:
        _answer(line)
    assert said in str(refused.value)
    assert str(refused.value).endswith(".")


@given(st.integers(20, 600), st.sampled_from(["1/6", "1/3", "1/2", "1"]), st.integers(2, 12))
def test_calc_and_compiler_agree(tenths: int, step: str, bands: int) -> None:
    """What calc says of a strip is what its sheet is given."""
    centre = tenths / 10
    strip = read_tree(
        {
            "format": "treadle/strip/1",
            "title": "x",
            "filter": "2",
            "times": {"kind": "stops", "centre": centre, "step": step, "bands": bands},
            "card": "cover",
            "pace": "press",
        },
        "made up",
    )
    assert isinstance(strip, Strip)
    try:
        plan = compile_strip(strip, source="x", version=1, longest_ms=10**9)
    except Impossible:
        return
    figures = _json(f"strip --centre {centre} --step {step} --bands {bands}")
    assert plan.strip is not None
    assert figures["totals"] == [ms / 1000 for ms in plan.strip.totals_ms]
    assert figures["pulses"] == [ms / 1000 for ms in plan.strip.pulses_ms]
