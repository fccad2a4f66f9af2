"""The drawings of the wiring, the example of the wiring file and the header say the same."""

from __future__ import annotations

import importlib.util
import re
import tomllib
from pathlib import Path
from types import ModuleType

import pytest
from gpiozero.pins.pi import PiBoardInfo

from controller.commands.wiring_page import example
from hardware.wiring_tables import HEADER

ROOT = Path(__file__).resolve().parents[2]
IMAGES = ROOT / "docs" / "images"
BOARDS = {"3B": 0xA02082, "4B": 0xC03111, "5B": 0xC04170}
"""Revision codes of three models with the 40-pin header."""


def _diagrams() -> ModuleType:
    spec = importlib.util.spec_from_file_location("diagrams", ROOT / "docs" / "diagrams.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _example() -> dict[str, int]:
    """Every pin of the example, with what it offers behind a #, as `table.key` and GPIO number."""
    told = re.sub(r"^# (?=\[|[a-z_]+ = )", "", example(), flags=re.MULTILINE)
    tables = {name: table for name, table in tomllib.loads(told).items() if isinstance(table, dict)}
    return {
        f"{name}.{key}": value for name, table in tables.items() for key, value in table.items() if key.endswith("pin")
    }


@pytest.mark.parametrize(("name", "draw"), [("wiring", "draw"), ("header", "draw_header")])
def test_each_drawing_is_what_its_script_draws(name: str, draw: str) -> None:
    """The kept drawings are what docs/diagrams.py makes of the wiring tables as they are; run it after a change."""
    assert (IMAGES / f"{name}.svg").read_text(encoding="utf-8") == getattr(_diagrams(), draw)()


def test_the_drawing_has_the_pins_of_the_example() -> None:
    """Each pin of the example wiring file is drawn once with its GPIO number and its place on the header."""
    pins = _example()
    assert pins.pop("lamp_soft.pin") == pins["lamp.pin"], "one lamp or the soft one of two: the same wire"
    drawn = re.findall(r">GPIO (\d+)</text><text[^>]*>header (\d+)<", (IMAGES / "wiring.svg").read_text("utf-8"))
    assert sorted((int(gpio), int(place)) for gpio, place in drawn) == sorted((n, HEADER[n]) for n in pins.values())
    assert set(_diagrams().DRAWN) == set(pins)


def test_the_example_says_where_each_pin_is() -> None:
    """Beside each pin of the example stands its place on the header."""
    said = re.findall(r"pin = (\d+)  # header (\d+)$", example(), re.MULTILINE)
    assert {int(gpio): int(place) for gpio, place in said} == {gpio: HEADER[gpio] for gpio in _example().values()}


@pytest.mark.parametrize("model", BOARDS)
def test_places_on_the_header_are_the_board_s(model: str) -> None:
    """Every GPIO number is where the pin library's own board data (gpiozero's PiBoardInfo) has it; so is ground."""
    pins = PiBoardInfo.from_revision(BOARDS[model]).headers["J8"].pins
    assert {int(pin.name[4:]): place for place, pin in pins.items() if pin.name.startswith("GPIO")} == HEADER
    diagrams = _diagrams()
    for name, places in (("GND", diagrams.GROUND), ("3V3", diagrams.THREE_VOLTS), ("5V", diagrams.FIVE_VOLTS)):
        assert tuple(place for place, pin in pins.items() if pin.name == name) == places
