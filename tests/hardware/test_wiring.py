"""The wiring file: what is taken, what is refused and with which remedy, and what the keeper is told of it."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import treadle
from controller.commands import wiring_page
from hardware import fitting
from hardware.errors import LineError
from hardware.fitting import LARGEST_WIRING, read_body, read_fitting
from hardware.open_lines import read_spec
from hardware.wiring import FootPins, Output, Wiring, read_outputs
from hardware.wiring import read_wiring as read_tables
from hardware.wiring_tables import OUTLETS, TABLES, TAKEN, TOP
from hardware.wiring_tables import PLAIN as PLAIN_TABLES

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


def read_wiring(text: str, name: str) -> Wiring:
    return read_tables(read_body(text, name), name)


# ---- what is taken


def test_a_plain_wiring_is_taken() -> None:
    """A lamp and a foot contact are enough; the filters are then changed in the drawer."""
    wiring = read_wiring(PLAIN, "wiring.toml")
    assert (wiring.filters, wiring.lamps, wiring.operate_ms) == ("drawer", {"lamp": 17}, 0.0)


def test_everything_at_once_is_taken() -> None:
    """Every line there is may be fitted together, and the relay's delays are read as they were written."""
    wiring = read_wiring(WHOLE, "wiring.toml")
    assert wiring.lamps == {"soft": 17, "hard": 22}
    assert (wiring.operate_ms, wiring.release_ms) == (8.0, 4.5)


def test_the_keeper_is_told_every_line(tmp_path: Path) -> None:
    """The keeper is given the file's own tables, and reads in them what the daemon does: each line, pin, polarity."""
    _write(tmp_path, WHOLE)
    found = read_fitting(tmp_path, {}, practice=False)
    told = read_spec(json.loads(json.dumps(found.lines)))
    assert (told.wiring, told.runtime, told.factory) == (found.wiring, None, "lgpio")
    assert told.wiring == Wiring(
        filters="lines",
        chip=0,
        lamps={"soft": 17, "hard": 22},
        foot=FootPins(27, 24),
        pedals=("/dev/input/by-id/usb-a_pedal-event-kbd",),
        sounder=18,
        lid=23,
        outlets={
            "safelight": Output(25, False),
            "room_light": Output(26),
            "status_led": Output(12),
            "alive": Output(13),
        },
        safelight_dark_while_lit=False,
        operate_ms=8.0,
        release_ms=4.5,
    )


def test_pedals_alone_are_a_foot_switch(tmp_path: Path) -> None:
    """A USB pedal may stand in for the wired contact."""
    _write(tmp_path, '[lamp]\npin = 17\n[foot]\npedals = ["/dev/input/by-id/usb-x-event-kbd"]\n')
    wiring = read_spec(read_fitting(tmp_path, {}, practice=False).lines).wiring
    assert (wiring.foot, wiring.pedals) == (None, ("/dev/input/by-id/usb-x-event-kbd",))


def test_the_practice_darkroom_is_fitted_alike(tmp_path: Path) -> None:
    """In the practice darkroom the pins mean nothing, and each line that is named is fitted."""
    _write(tmp_path, WHOLE)
    found = read_fitting(tmp_path, {}, practice=True)
    told = read_spec(found.lines)
    assert (told.wiring, told.runtime) == (found.wiring, tmp_path / "run")
    assert [*told.wiring.outlets] == ["safelight", "room_light", "status_led", "alive"]


def test_a_practice_darkroom_needs_no_file(tmp_path: Path) -> None:
    """Without a file the practice darkroom has a lamp, a foot switch and a sounder."""
    found = read_fitting(tmp_path, {}, practice=True)
    assert found.wiring == read_spec({"kind": "practice", "runtime": str(tmp_path / "run")}).wiring
    assert found.wiring == read_tables(PLAIN_TABLES, "")
    assert (found.wiring.lamps, found.wiring.foot, found.wiring.sounder) == ({"lamp": 17}, FootPins(27), 18)
    assert (found.wiring.lid, found.wiring.outlets, found.place) == (None, {}, None)


def test_the_data_folder_comes_before_the_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system's file counts where the data folder has none, and never for the practice darkroom."""
    system = tmp_path / "etc" / "wiring.toml"
    system.parent.mkdir()
    system.write_text(PLAIN.replace("17", "22"), encoding="utf-8")
    monkeypatch.setattr(fitting, "SYSTEM_WIRING", system)
    data = tmp_path / "data"
    data.mkdir()
    assert read_fitting(data, {}, practice=False).place == system
    assert read_fitting(data, {}, practice=True).place is None
    own = _write(data)
    assert read_fitting(data, {}, practice=False).place == own


# ---- what is refused


def test_no_file_is_said_in_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a wiring file `serve` names file and remedy and ends; it never falls back to practice lines."""
    with pytest.raises(LineError, match=r"wiring\.toml.*treadle wiring.*falls back"):
        read_fitting(tmp_path, {}, practice=False)
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
    *((f"[lamp]\npin = {pin}\n[foot]\npin = 27\n", "lamp.pin", "from 0 to 27") for pin in (28, 99, -1)),
    (
        'filters = "lines"\n[lamp_soft]\npin = 17\n[lamp_hard]\npin = 17\n[foot]\npin = 27\n',
        "lamp_hard.pin",
        "move one",
    ),
    (_with("[status_led]\npin = 24\nactive_high = 1\n"), "status_led.active_high", "true or false"),
    (_with("closed_pin = 24\n"), "foot.closed_pin", "Take it out"),
    (_with('pedals = "/dev/input/by-id/x"\n'), "foot.pedals", "list"),
    ("[lamp\n", "TOML", "Mend"),
    ("[lamp]\npin = 17\npin = 18\n", "TOML", "Mend"),
]


@pytest.mark.parametrize(("text", "field", "remedy"), REFUSED)
def test_each_refusal_names_file_key_and_remedy(text: str, field: str, remedy: str) -> None:
    """What cannot be so is refused with a sentence that names the file, the key and what would do."""
    with pytest.raises(LineError) as refusal:
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
        read_fitting(tmp_path, {}, practice=False)
    place.rmdir()
    for held, words in ((b"#" * (LARGEST_WIRING + 1), "longer than"), (b"\xff\xfe", "UTF-8")):
        place.write_bytes(held)
        with pytest.raises(LineError, match=words):
            read_fitting(tmp_path, {}, practice=False)


def test_a_bad_file_keeps_serve_from_starting(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`serve` holds the file to every rule before it touches a line or makes a journal, with status 2."""
    _write(tmp_path, _with("[lid]\npin = 17\n"))
    assert treadle.main(["serve", "--data", str(tmp_path)]) == 2
    assert "lid.pin" in capsys.readouterr().err
    assert not (tmp_path / "journal.db").exists()


# ---- laws


@given(
    pins=st.permutations(range(28)),
    lines=st.sets(st.sampled_from(["sounder", "lid", *OUTLETS])),
    two=st.booleans(),
    force=st.booleans(),
)
def test_what_is_taken_is_let_go_of_alike(pins: list[int], lines: set[str], two: bool, force: bool) -> None:
    """Whatever wiring is taken, `treadle dark` finds every lamp and outlet of it, on the same pin."""
    names = ["lamp_soft", "lamp_hard"] if two else ["lamp"]
    tables = "".join(
        f"[{name}]\npin = {pin}\n" for name, pin in zip([*names, "foot", *sorted(lines)], pins, strict=False)
    )
    text = f'filters = "{"lines" if two else "drawer"}"\nforce = {str(force).lower()}\n{tables}'
    try:
        wiring = read_wiring(text, "wiring.toml")
    except LineError:
        return
    assert read_outputs(read_body(text, "wiring.toml"), "wiring.toml").outputs() == wiring.outputs()


# ---- dark


def test_dark_knows_the_lamp_whatever_else_is_wrong(tmp_path: Path) -> None:
    """A fault in another line's words does not keep `treadle dark` from the lamps; a faulty outlet is left out."""
    _write(tmp_path, '[lamp]\npin = 17\n[foot]\npin = "x"\npedals = 3\n[lid]\npin = 99\n[alive]\npin = 13\n')
    found = read_fitting(tmp_path, {}, practice=False, outputs_only=True)
    assert list(read_spec(found.lines, outputs_only=True).wiring.outputs()) == ["lamp line", "alive"]
    with pytest.raises(LineError, match=r"foot\.pin"):
        read_fitting(tmp_path, {}, practice=False)
    _write(
        tmp_path,
        "fan = 3\nfoot = 5\nlid = 6\nsafelight = 7\n[lamp]\npin = 17\n[alive]\npin = 17\n[status_led]\npin = 12\n",
    )
    found = read_fitting(tmp_path, {}, practice=True, outputs_only=True)
    assert list(found.wiring.outputs()) == ["lamp line", "status_led"]
    with pytest.raises(LineError, match="“foot” is 5, not a table"):
        read_fitting(tmp_path, {}, practice=True)
    code = "import sys; sys.modules['pydantic'] = None; import hardware.fitting"
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)


HOSTILE = {
    "a number of 5000 digits": f"{PLAIN}[lid]\npin = {'9' * 5000}\n",
    "one in sixteens": f"{PLAIN}[lid]\npin = 0x{'f' * 5000}\n",
    "a thousand brackets and more": f"{PLAIN}[lid]\npin = {'[' * 7000}",
    "brackets that are closed": f"{PLAIN}[lid]\npin = {'[' * 60}{']' * 60}\n",
    "a long dotted key": f"{'.'.join('a' * 7000)} = 1\n{PLAIN}",
    "a longer one": f"{'.'.join('a' * 20_000)} = 1\n{PLAIN}",
    "a long dotted key within": f"{PLAIN}[lid]\npin.{'.'.join('a' * 7000)} = 1\n",
    "a thousand keys": PLAIN + "".join(f"k{n} = {n}\n" for n in range(1000)),
    "a key of thousands of letters": f"{'k' * 5000} = 1\n{PLAIN}",
    "a text of thousands of letters": f'{PLAIN}[lid]\npin = "{"x" * 5000}"\n',
    "a long chip": f"chip = 0x{'f' * 5000}\n{PLAIN}",
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_whatever_is_written_ends_in_a_sentence(tmp_path: Path, text: str) -> None:
    """No text makes the reading break, or its refusal long; `treadle dark` ends, and says so where it is not dark."""
    _write(tmp_path, text)
    with pytest.raises(LineError) as refusal:
        read_fitting(tmp_path, {}, practice=True)
    assert "wiring.toml" in str(refusal.value)
    assert len(str(refusal.value)) < 2000
    done = subprocess.run(
        [sys.executable, "-P", str(ROOT / "treadle.py"), "dark", "--simulate", "--data", str(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        env={"PATH": os.environ["PATH"], "HOME": str(tmp_path)},
    )
    assert "Traceback" not in done.stderr
    assert (done.returncode == 0) == (done.stderr == "")
    assert done.returncode == 0 or "not known to be dark" in done.stderr


def test_a_line_of_dots_is_refused_before_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A key of very many parts, which takes a reader of TOML seconds, never comes to it; a remark may have dots."""
    _write(tmp_path, f"  # {'.' * 500}\n{PLAIN}")
    assert read_fitting(tmp_path, {}, practice=True)
    _write(tmp_path, f"{PLAIN}[lid]\npin.{'.'.join('a' * 201)} = 1\n")

    def read(text: str) -> None:
        pytest.fail(f"{len(text)} letters were read")

    monkeypatch.setattr(fitting.tomllib, "loads", read)
    with pytest.raises(LineError, match=r"wiring\.toml is no wiring file: its line \d+ has over 200 dots"):
        read_fitting(tmp_path, {}, practice=True)


def test_dark_says_that_it_is_not_known_after_anything_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever breaks on the way, `treadle dark` says that the lamp is not known to be dark, and ends with status 1."""

    def broken(*_: object, **__: object) -> None:
        raise RecursionError("too deep")

    monkeypatch.setattr("controller.service.dark_command.darken", broken)
    assert treadle.main(["dark", "--simulate", "--data", str(tmp_path)]) == 1
    assert "too deep" in (said := capsys.readouterr().err)
    assert said.endswith("switch the lamp off at its own switch.\n")


# ---- words


def test_the_page_is_made_from_the_fields() -> None:
    """docs/reference/wiring.md is what the fields say; “python -m controller.commands.wiring_page” writes it."""
    assert (ROOT / "docs" / "reference" / "wiring.md").read_text(encoding="utf-8") == wiring_page.page()


def test_every_key_says_what_it_is_in_one_sentence() -> None:
    """Each table and key of the wiring file is described beside it."""
    keys = {**TOP, **{f"{name}.{key}": rule for name, table in TABLES.items() for key, rule in table.keys.items()}}
    for name, row in {**keys, **TABLES}.items():
        assert re.fullmatch(r"[^.]+\.", row.says), name


def test_the_example_is_accepted(capsys: pytest.CaptureFixture[str]) -> None:
    """What `treadle wiring` prints is taken as it stands, and each thing it offers as well once its # is gone."""
    assert treadle.main(["wiring"]) == 0
    example = capsys.readouterr().out
    assert read_wiring(example, "wiring.toml").lamps == {"lamp": 17}
    told = re.sub(r"^# (?=\[|[a-z_]+ = )", "", example, flags=re.MULTILINE)
    every = told.replace('filters = "drawer"', 'filters = "lines"')
    lines = re.sub(r"^\[lamp\]$.*?(?=^\[)", "", every, flags=re.MULTILINE | re.DOTALL)
    body = read_body(lines, "wiring.toml")
    assert read_tables(body, "wiring.toml").pedals
    assert set(body) == {*TOP, *TABLES} - {"lamp"}
