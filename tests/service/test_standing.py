"""How a running daemon stands, in words: for `treadle status`, and for the line that systemctl shows."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from controller.addresses import Places
from controller.foot.status import LitNow, Status
from controller.service.standing import Shown, stand

HERE = Places(local="http://localhost:80", name="http://pi.local:80", addresses=("http://192.0.2.7:80",))
READY = Status(number=1, at_ns=120_000_000_000, place="ready", keeper="ready")
LIT = LitNow(kind="step", on_ns=1, lit_ms=1)


@pytest.mark.parametrize(
    ("changes", "lamp", "line"),
    [
        ({}, "The lamp is dark.", "lamp dark; http://192.0.2.7:80"),
        ({"lit": LIT}, "The lamp is lit.", "lamp lit; http://192.0.2.7:80"),
        ({"keeper": "away"}, "nobody knows", "lamp not known to be dark; http://192.0.2.7:80"),
        ({"keeper": "fault", "lit": LIT}, "nobody knows", "lamp not known to be dark; http://192.0.2.7:80"),
    ],
)
def test_the_lamp_is_said_as_it_is_known(changes: dict[str, Any], lamp: str, line: str) -> None:
    """Lit and dark are said where a keeper knows; without one nobody says that it is dark."""
    standing = stand(READY.model_copy(update=changes), HERE, 0)
    assert any(lamp in said for said in standing.lines())
    assert standing.short() == line


def test_sheet_addresses_and_troubles_are_said() -> None:
    """An open sheet by its number, every address, and each trouble; a sheet that is only planned is not open."""
    planned = READY.model_copy(update={"sheet": "s", "sheet_number": 12, "troubles": ("The card is full.",)})
    said = " ".join(stand(planned, HERE, 0).lines())
    assert "No sheet is open." in said
    assert "The card is full." in said
    assert all(place in said for place in HERE.every())
    assert "Sheet 12 is open." in stand(planned.model_copy(update={"open": True}), HERE, 0).lines()


def test_addresses_are_looked_up_now_and_then() -> None:
    """The line that is made each second asks for addresses each five; a change is in it then."""
    asked: list[int] = []
    now = {"ns": 0}

    def where() -> Places:
        asked.append(now["ns"])
        return HERE.model_copy(update={"addresses": (f"http://{len(asked)}",)})

    desk: Any = SimpleNamespace(now_ns=lambda: now["ns"], status=lambda: READY)
    shown = Shown(desk, where)
    lines = set()
    for second in range(11):
        now["ns"] = second * 1_000_000_000
        lines.add(shown.line())
    assert len(asked) == 3
    assert lines == {f"lamp dark; http://{number}" for number in (1, 2, 3)}
