"""`treadle dark`, as a service waits with it until somebody has mended what keeps the lamp from being known dark."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest

import treadle
from controller.service import dark_command
from controller.service.dark_command import BY_HAND, came_up
from controller.service.systemd import Notifier
from hardware.fitting import not_its_own
from hardware.practice.outputs import PracticeLamp


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path / "run"))
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    monkeypatch.setattr(dark_command, "_AGAIN_SECONDS", 0.05)
    (tmp_path / "run").mkdir()
    return tmp_path / "data"


def dark(data: Path, *words: str) -> int:
    return treadle.main(["dark", "--simulate", "--data", str(data), *words])


def test_a_free_line_is_dark_at_once(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where nothing holds the line it is driven dark, and nothing is said."""
    assert dark(data, "--patience", "30") == 0
    assert capsys.readouterr().err == ""


def test_it_waits_and_says_why_once(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """While something holds the line it tries on, says so once, to the manager too, and is dark once it is free."""
    ear = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    ear.bind(str(tmp_path / "notify"))
    ear.settimeout(5)
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
    known_dark = iter([False, False, False, True])
    monkeypatch.setattr(dark_command, "darken", lambda *_: next(known_dark))
    try:
        assert dark(data, "--patience", "60") == 0
        assert ear.recv(500).decode() == f"STATUS={BY_HAND}"
    finally:
        ear.close()
    assert list(known_dark) == []
    assert capsys.readouterr().err.count(BY_HAND) == 1


def test_patience_ends(data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without patience, or at its end, it fails with the sentence: nothing starts on a line that is not known dark."""
    holder = PracticeLamp(tmp_path / "run", "lamp")
    try:
        for words in ((), ("--patience", "0.2")):
            assert dark(data, *words) == 1
            assert capsys.readouterr().err.count(BY_HAND) == 1
    finally:
        holder.close()


def test_starts_that_came_to_nothing_are_tried_less_and_less_often(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After three starts that came to nothing each next one waits twice as long, dark, up to 20 s; and says so."""
    ear = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    ear.bind(str(tmp_path / "notify"))
    ear.settimeout(5)
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
    monkeypatch.setattr(Notifier, "say_last", Notifier.say)  # nobody answers here
    rested: list[float] = []
    monkeypatch.setattr(dark_command.time, "sleep", rested.append)
    driven: list[int] = []
    darken = dark_command.darken
    monkeypatch.setattr(dark_command, "darken", lambda *of: driven.append(len(rested)) or darken(*of))
    for _ in range(10):
        assert dark(data, "--back-off") == 0
    assert rested == [1, 2, 4, 8, 16, 20, 20]
    assert driven == [0, 0, 0, 0, 1, 2, 3, 4, 5, 6], "it is dark before it waits"
    assert "did not come up 3 times" in ear.recv(500).decode()
    ear.close()
    assert dark(data) == 0
    assert len(rested) == 7, "no pause where no start follows"
    (tmp_path / "run" / dark_command.TRIED_NAME).write_text("what?")
    assert dark(data, "--back-off") == 0
    assert len(rested) == 7


def test_a_start_by_hand_or_one_that_came_up_begins_anew(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stopped by hand, or once it was ready, the next start is at once; after another end the count goes on."""
    count = tmp_path / "run" / dark_command.TRIED_NAME
    monkeypatch.setattr(dark_command.time, "sleep", lambda _: None)
    for _ in range(4):
        dark(data, "--back-off")
    monkeypatch.setenv("SERVICE_RESULT", "exit-code")
    dark(data)
    assert count.read_text() == "4"
    monkeypatch.setenv("SERVICE_RESULT", "success")
    dark(data)
    assert not count.exists()
    monkeypatch.delenv("SERVICE_RESULT")
    dark(data, "--back-off")
    came_up(count)
    came_up(count)
    assert not count.exists()


def test_what_stands_in_the_way_is_said(data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that stands where a folder should is named in a sentence, without any number of an error."""
    (tmp_path / "run").rmdir()
    (tmp_path / "run").touch()
    assert dark(data) == 1
    told = capsys.readouterr().err
    assert f"{tmp_path / 'run'}: File exists." in told
    assert "Errno" not in told


def test_a_file_of_somebody_else_s_is_said_with_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    """Within the service's own folder the command that gives it back is said; elsewhere, which user asks."""
    monkeypatch.setenv("STATE_DIRECTORY", "/var/lib/treadle")
    monkeypatch.setenv("LOGNAME", "printer")
    own = not_its_own(PermissionError(13, "Permission denied", "/var/lib/treadle/treadle/wiring.toml"))
    assert "sudo chown -R treadle: /var/lib/treadle" in own
    other = not_its_own(PermissionError(13, "Permission denied", "/home/pi/x"))
    assert "the user printer" in other
    assert "/home/pi/x" in other
