"""The practice bulb's file: what was put in is read, and what is no bulb is refused in a short sentence."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hardware.errors import LineError
from hardware.practice.bulb import NEW, Bulb, put_bulb, read_bulb
from hardware.practice.meter import LampModel

GOOD = {"lag_ms": 30.0}


def test_a_bulb_is_read_as_it_was_put_in(tmp_path: Path) -> None:
    """The same model and brightness; an ideal one where none was put in."""
    assert read_bulb(tmp_path) == NEW
    bulb = Bulb(LampModel(lag_ms=30.0, tau_up_ms=60.0, operate_ms=9.0), 0.89)
    put_bulb(tmp_path, bulb)
    assert read_bulb(tmp_path) == bulb


@pytest.mark.parametrize(
    "tree",
    [
        {"model": {"lag_ms": 10**400}, "brightness": 1.0},
        {"model": GOOD, "brightness": 10**400},
        {"model": {**GOOD, "k" * 3000: 1}, "brightness": 1.0},
        {"model": {"\x1b[31m": 1}, "brightness": 1.0},
        {"model": {"\ud800": 1}, "brightness": 1.0},
        {"model": {"lag_ms": -(10**290)}, "brightness": 1.0},
        {"model": GOOD, "brightness": -1},
        {"model": GOOD, "brightness": "\n"},
        {"model": GOOD, "brightness": float("nan")},
        {"model": [], "brightness": 1.0},
        {"model": GOOD},
        [],
        None,
    ],
    ids=lambda tree: json.dumps(tree)[:40],
)
def test_what_is_no_bulb_is_refused_in_a_sentence(tmp_path: Path, tree: object) -> None:
    """The sentence names the file and the remedy, can be printed, and is short whatever the file holds."""
    (tmp_path / "bulb.json").write_text(json.dumps(tree), "utf-8")
    with pytest.raises(LineError) as refused:
        read_bulb(tmp_path)
    said = str(refused.value)
    assert said.startswith(f"the practice bulb {tmp_path / 'bulb.json'} cannot be read (")
    assert said.endswith("): remove the file")
    assert said.isprintable()
    assert len(said) < len(str(tmp_path)) + 260
