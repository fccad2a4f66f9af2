"""The wiring file: what is taken, what is refused and with which remedy, and what the keeper is told of it."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import treadle
from controller.commands import wiring_page
from controller.daemon.wiring import PRACTICE, TAKEN, Wiring, fitted, model_tables, read_wiring, wiring_of
from controller.errors import Unreadable
from hardware import fitting
from hardware.errors import LineError
from hardware.fitting import read_fitting
from hardware.lines.spec import GpioSpec, PracticeSpec, read_spec

ROOT = Path(__file__).resolve().parents[2]
PLAIN = "[lamp]\npin = 17\n[foot]\npin = 27\n"
WHOLE = """\
filters = "lines"
chip = 0
[lamp_soft]
pin = 17
[lamp_hard]
pin = 22
[foot]
pin = 27
open_pin = 24
pedals = ["/dev/input/by-id/usb-a_pedal-event-kbd"]
[sounder]
pin = 18
[lid]
pin = 23
[safelight]
pin = 25
active_high = false
[room_light]
pin = 26
[status_led]
pin = 12
[alive]
pin = 13
[relay]
operate_ms = 8
release_ms = 4.5
"""


@pytest.fixture(autouse=True)
def _no_system_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fitting, "SYSTEM_WIRING", tmp_path / "etc" / "wiring.toml")


def _write(folder: Path, text: str = PLAIN) -> Path:
    place = folder / "wiring.toml"
    place.write_text(text, encoding="utf-8")
    return place


# ---- what is taken


def test_a_plain_wiring_is_taken() -> None:
    """A lamp and a foot contact are enough; the filters are then changed in the drawer."""
    wiring = read_wiring(PLAIN, "wiring.toml")
    assert (wiring.filters, wiring.lamps, wiring.relay.operate_ms) == ("drawer", ("lamp",), 0.0)


def test_everything_at_once_is_taken() -> None:
    """Every line there is may be fitted together, and the relay's delays are read as they were written."""
    wiring = read_wiring(WHOLE, "wiring.toml")
    assert wiring.lamps == ("soft", "hard")
    assert (wiring.relay.operate_ms, wiring.relay.release_ms) == (8.0, 4.5)


def test_the_keeper_is_told_every_line(tmp_path: Path) -> None:
    """The specification names each line of the file with its pin and polarity, in the form that the keeper reads."""
    _write(tmp_path, WHOLE)
    found = fitted(tmp_path, {}, practice=False)
    assert found.lines == {
        "kind": "gpio",
        "factory": "lgpio",
        "chip": 0,
        "lamps": {"soft": 17, "hard": 22},
        "foot": {"pin": 27, "open_pin": 24},
        "pedals": ["/dev/input/by-id/usb-a_pedal-event-kbd"],
        "sounder": {"pin": 18},
        "lid": {"pin": 23},
        "safelight": {"pin": 25, "active_high": False},
        "room_light": {"pin": 26},
        "status_led": {"pin": 12, "active_high": True},
        "alive": {"pin": 13, "active_high": True},
    }
    assert isinstance(read_spec(json.loads(json.dumps(found.lines))), GpioSpec)
    assert wiring_of(found) == read_wiring(WHOLE, "wiring.toml")


def test_pedals_alone_are_a_foot_switch(tmp_path: Path) -> None:
    """A USB pedal may stand in for the wired contact."""
    _write(tmp_path, '[lamp]\npin = 17\n[foot]\npedals = ["/dev/input/by-id/usb-x-event-kbd"]\n')
    lines = fitted(tmp_path, {}, practice=False).lines
    assert (lines["foot"], lines["pedals"]) == (None, ["/dev/input/by-id/usb-x-event-kbd"])
    read_spec(lines)


def test_the_practice_darkroom_is_fitted_alike(tmp_path: Path) -> None:
    """In the practice darkroom the pins mean nothing, and each line that is named is fitted."""
    _write(tmp_path, WHOLE)
    lines = fitted(tmp_path, {}, practice=True).lines
    assert {key: value for key, value in lines.items() if key != "runtime"} == {
        "kind": "practice",
        "lamps": ["soft", "hard"],
        "sounder": True,
        "lid": True,
        "changeover": True,
        "outlets": ["safelight", "room_light", "status_led", "alive"],
    }
    assert isinstance(read_spec(lines), PracticeSpec)


def test_a_practice_darkroom_needs_no_file(tmp_path: Path) -> None:
    """Without a file the practice darkroom has a lamp, a foot switch and a sounder."""
    found = fitted(tmp_path, {}, practice=True)
    assert found.lines == {"kind": "practice", "runtime": str(tmp_path / "run")}
    assert wiring_of(found) == PRACTICE


def test_the_data_folder_comes_before_the_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system's file counts where the data folder has none, and never for the practice darkroom."""
    system = tmp_path / "etc" / "wiring.toml"
    system.parent.mkdir()
    system.write_text(PLAIN.replace("17", "22"), encoding="utf-8")
    monkeypatch.setattr(fitting, "SYSTEM_WIRING", system)
    data = tmp_path / "data"
    data.mkdir()
    assert fitted(data, {}, practice=False).wiring == system
    assert fitted(data, {}, practice=True).wiring is None
    own = _write(data)
    assert fitted(data, {}, practice=False).wiring == own


# ---- what is refused


def test_no_file_is_said_in_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a wiring file `serve` names file and remedy and ends; it never falls back to practice lines."""
    with pytest.raises(LineError, match=r"wiring\.toml.*treadle wiring.*falls back"):
        fitted(tmp_path, {}, practice=False)
    assert treadle.main(["serve", "--data", str(tmp_path)]) != 0
    assert str(tmp_path / "wiring.toml") in capsys.readouterr().err
    assert not (tmp_path / "journal.db").exists()


def _with(changes: str, base: str = PLAIN) -> str:
    return base + changes


REFUSED = [
    ("lamp = 17\n[foot]\npin = 27\n", "lamp", "not a table"),
    ("[lamp]\npin = 17\n", "foot", "treadle wiring"),
    ("[lamp]\n[foot]\npin = 27\n", "lamp.pin", "missing"),
    (_with("[lid]\npin = 28\n"), "lid.pin", "from 0 to 27"),
    (_with("[lid]\npin = true\n"), "lid.pin", "from 0 to 27"),
    (_with('[lid]\npin = "23"\n'), "lid.pin", "from 0 to 27"),
    (_with("[lid]\npin = 23\nactive_high = true\n"), "lid.active_high", "Take it out"),
    (_with("[heater]\npin = 23\n"), "heater", "Take it out"),
    ("chip = -1\n" + PLAIN, "chip", "Leave it out"),
    ("force = 1\n" + PLAIN, "force", "true or false"),
    ('filters = "wheel"\n' + PLAIN, "filters", "drawer"),
    (_with("[relay]\noperate_ms = 101\n"), "relay.operate_ms", "0 to 100"),
    (_with("[relay]\nrelease_ms = -1\n"), "relay.release_ms", "0 to 100"),
    (_with("[relay]\nrelease_ms = nan\n"), "relay.release_ms", "0 to 100"),
    ('filters = "lines"\n' + PLAIN, "lamp_soft", "Write it"),
    (_with("[lamp_hard]\npin = 22\n"), "lamp_hard", "Take it out"),
    ("[lamp]\npin = 17\n[foot]\n", "foot", "foot.pedals"),
    ("[lamp]\npin = 17\n[foot]\nopen_pin = 24\n", "foot.open_pin", "foot.pin too"),
    ('[lamp]\npin = 17\n[foot]\npin = 27\npedals = ["/dev/input/event3"]\n', "/dev/input/event3", "by-id"),
    ('[lamp]\npin = 17\n[foot]\npin = 27\npedals = ["/dev/input/by-id/../event3"]\n', "event3", "by-id"),
    ('[lamp]\npin = 17\n[foot]\npin = 27\npedals = ["/dev/input/by-id/a", "/dev/input/by-id/a"]\n', "by-id/a", "twice"),
    ("[lamp]\npin = 17\n[foot]\npin = 27\npedals = 3\n", "foot.pedals", "list"),
    (_with("[lid]\npin = 17\n"), "lid.pin", "move one"),
    ("[lamp]\npin = 17\n[foot]\npin = 27\nopen_pin = 27\n", "foot.open_pin", "move one"),
    (_with("[lid]\npin = 0\n"), "lid.pin", "Take another pin"),
    ("force = true\n" + _with("[lid]\npin = 1\n"), "lid.pin", "Take another pin"),
    *((_with(f"[lid]\npin = {pin}\n"), "lid.pin", "force = true") for pin in TAKEN),
    *((f"[lamp]\npin = {pin}\n[foot]\npin = 27\n", "lamp.pin", "22 to 27") for pin in range(9)),
    *(
        (f"force = true\n{PLAIN}[{line}]\npin = {pin}\n", f"{line}.pin", "22 to 27")
        for line in ("room_light", "safelight", "alive")
        for pin in (4, 8)
    ),
    ("[lamp]\npin = 17\nactive_high = false\n[foot]\npin = 27\n", "lamp.active_high", "high level"),
    (_with("[room_light]\npin = 26\nactive_high = false\n"), "room_light.active_high", "high level"),
    ("[lamp\n", "TOML", "Mend"),
    ("[lamp]\npin = 17\npin = 18\n", "TOML", "Mend"),
]


@pytest.mark.parametrize(("text", "field", "remedy"), REFUSED)
def test_each_refusal_names_file_key_and_remedy(text: str, field: str, remedy: str) -> None:
    """What cannot be so is refused with a sentence that names the file, the key and what would do."""
    with pytest.raises(Unreadable) as refusal:
        read_wiring(text, "/etc/treadle/wiring.toml")
    words = str(refusal.value)
    assert "/etc/treadle/wiring.toml" in words
    assert field in words
    assert remedy in words


def test_forced_pins_are_taken() -> None:
    """`force = true` takes the pins of serial port, SPI and I2C for what may be pulled up."""
    for pin in TAKEN:
        assert read_wiring(f"force = true\n{PLAIN}[lid]\npin = {pin}\n", "wiring.toml").lid is not None


def test_a_file_that_cannot_be_read_is_said(tmp_path: Path) -> None:
    """A folder, a far too long file and one that is no text are each refused by name, before anything is opened."""
    place = tmp_path / "wiring.toml"
    place.mkdir()
    with pytest.raises(LineError, match="cannot be read"):
        fitted(tmp_path, {}, practice=False)
    place.rmdir()
    for held, words in ((b"#" * 70_000, "longer than"), (b"\xff\xfe", "UTF-8")):
        place.write_bytes(held)
        with pytest.raises(LineError, match=words):
            fitted(tmp_path, {}, practice=False)


def test_a_bad_file_keeps_serve_from_starting(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`serve` holds the file to every rule before it touches a line or makes a journal, with status 2."""
    _write(tmp_path, _with("[lid]\npin = 17\n"))
    assert treadle.main(["serve", "--data", str(tmp_path)]) == 2
    assert "lid.pin" in capsys.readouterr().err
    assert not (tmp_path / "journal.db").exists()


# ---- laws


@given(
    pins=st.permutations(range(28)),
    lines=st.sets(st.sampled_from(["sounder", "lid", "safelight", "room_light", "status_led", "alive"])),
    two=st.booleans(),
    force=st.booleans(),
)
def test_what_is_taken_here_is_taken_by_the_keeper(pins: list[int], lines: set[str], two: bool, force: bool) -> None:
    """Whatever wiring passes here, the keeper's own reading of it finds nothing to refuse."""
    names = ["lamp_soft", "lamp_hard"] if two else ["lamp"]
    tables = "".join(
        f"[{name}]\npin = {pin}\n" for name, pin in zip([*names, "foot", *sorted(lines)], pins, strict=False)
    )
    text = f'filters = "{"lines" if two else "drawer"}"\nforce = {str(force).lower()}\n{tables}'
    try:
        read_wiring(text, "wiring.toml")
    except Unreadable:
        return
    read_spec(fitting._File(Path("wiring.toml"), tomllib.loads(text), lamps_only=False).real_lines())


# ---- dark


def test_dark_knows_the_lamp_whatever_else_is_wrong(tmp_path: Path) -> None:
    """A fault in another line's words does not keep `treadle dark` from the lamp; it needs no pydantic either."""
    _write(tmp_path, '[lamp]\npin = 17\n[foot]\npin = "x"\npedals = 3\n[lid]\npin = 99\n')
    lines = read_fitting(tmp_path, {}, practice=False, lamps_only=True).lines
    assert (lines["lamps"], lines["foot"], lines["lid"]) == ({"lamp": 17}, None, None)
    with pytest.raises(LineError, match=r"foot\.pin"):
        read_fitting(tmp_path, {}, practice=False)
    _write(tmp_path, "foot = 5\nlid = 6\nsafelight = 7\n[lamp]\npin = 17\n")
    lines = read_fitting(tmp_path, {}, practice=True, lamps_only=True).lines
    assert (lines["lamps"], lines["lid"], lines["outlets"]) == (["lamp"], False, [])
    with pytest.raises(LineError, match="foot is 5, not a table"):
        read_fitting(tmp_path, {}, practice=True)
    code = "import sys; sys.modules['pydantic'] = None; import hardware.fitting"
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)


# ---- words


def test_the_page_is_made_from_the_fields() -> None:
    """docs/reference/wiring.md is what the fields say; “python -m controller.commands.wiring_page” writes it."""
    assert (ROOT / "docs" / "reference" / "wiring.md").read_text(encoding="utf-8") == wiring_page.page()


def test_every_field_says_what_it_is_in_one_sentence() -> None:
    """Each key of the wiring file is described beside its field."""
    for model in (Wiring, *(model for _, model in model_tables())):
        for name, field in model.model_fields.items():
            assert field.description, name
            assert re.fullmatch(r"[^.]+\.", field.description), name


def test_the_example_is_accepted(capsys: pytest.CaptureFixture[str]) -> None:
    """What `treadle wiring` prints is taken as it stands, and each thing it offers as well once its # is gone."""
    assert treadle.main(["wiring"]) == 0
    example = capsys.readouterr().out
    assert read_wiring(example, "wiring.toml").lamp is not None
    told = re.sub(r"^# (?=\[|[a-z_]+ = )", "", example, flags=re.MULTILINE)
    every = told.replace('filters = "drawer"', 'filters = "lines"').replace("[lamp]\n", "[lamp]\n", 1)
    lines = re.sub(r"^\[lamp\]$.*?(?=^\[)", "", every, flags=re.MULTILINE | re.DOTALL)
    wiring = read_wiring(lines, "wiring.toml")
    assert all(getattr(wiring, name) is not None for name, _ in model_tables() if name != "lamp")
