"""What the service manager shows of a daemon: said once for each change, and never twice alike."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest
from tools.patience import PATIENCE_S

from controller.service import systemd
from controller.service.systemd import Notifier

AS_IT_STANDS = ["dark", "dark", "dark", "lit", "lit", "dark", "dark", "dark", "in doubt", "in doubt"]


def test_what_stands_is_said_only_where_it_has_changed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However often it is looked at, a line that is as it was is not said again; each change of it is, in order."""
    monkeypatch.setattr(systemd, "_LOOK_SECONDS", 0.001)
    looks = iter(AS_IT_STANDS)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ear:
        ear.bind(str(tmp_path / "notify"))
        ear.settimeout(PATIENCE_S)
        told = []
        with Notifier({"NOTIFY_SOCKET": str(tmp_path / "notify")}).serving(lambda: 0, lambda: next(looks, "ended")):
            while not told or told[-1] != "STATUS=ended":
                told.append(ear.recv(500).decode())
        told.append(ear.recv(500).decode())
    assert told == [
        "READY=1",
        *(f"STATUS={line}" for line in ("dark", "lit", "dark", "in doubt", "ended")),
        "STOPPING=1",
    ]


def test_without_a_manager_nothing_looks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nobody would show it, how things stand is not even looked at."""
    looked: list[int] = []
    with Notifier({}).serving(lambda: 0, lambda: looked.append(1) or ""):
        pass
    assert looked == []
