"""The page of a test evening: every test with when it was, when it is due, what it changed; taken back by one tap."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
from tools.shelf_phone import Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.daemon.trial_desk import Trial
from controller.errors import NotThere
from controller.trials.results import Changed
from controller.trials.safelight import found

SET = Changed(what="safe minutes", was="0", now="3")


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        yield made


def keep(desk: StandInDesk) -> str:
    """Keep a result of the safelight test, as its own page does; return its id."""
    desk.trials().register(
        Trial("safelight", undo={SET.what: lambda change: desk.change_settings({"safe_minutes": float(change.was)})})
    )
    desk.change_settings({"safe_minutes": 3.0})
    return desk.trials().keep(found(7, 3, 7, 0.35), "trials.due-never", changed=(SET,)).id


def test_a_result_stands_on_the_page_with_what_it_set(desk: StandInDesk) -> None:
    """What it found, what it set, and when it is due again."""
    keep(desk)
    words = Phone(desk).look("/tests").words
    assert "Safelight" in words
    assert "next on" in words
    assert "0 → 3" in words


def test_a_result_is_taken_back_with_what_it_set(desk: StandInDesk) -> None:
    """The setting is as it was before, the result counts no more; twice is refused."""
    id_ = keep(desk)
    phone = Phone(desk)
    signed = [pair for pair in phone.look("/tests").fields if pair[0] in ("token", "number", "run")][:3]
    answer = phone.send("/tests/back", [*signed, ("trial", "safelight"), ("id", id_)])
    assert answer.status_code == 303
    assert desk.settings().safe_minutes == 0.0
    assert desk.trials().last("safelight") is None
    with pytest.raises(NotThere):
        desk.trials().take_back("safelight", id_)


def test_a_reminder_is_set_to_another_time(desk: StandInDesk, monkeypatch: pytest.MonkeyPatch) -> None:
    """A quarter of a year instead of a year; what is no such time is refused."""
    keep(desk)
    phone = Phone(desk)
    signed = [pair for pair in phone.look("/tests").fields if pair[0] in ("token", "number", "run")][:3]
    phone.send("/tests/interval", [*signed, ("trial", "safelight"), ("days", "90")])
    line = desk.trials().line("safelight")
    assert line.last is not None
    assert line.due.day is not None
    assert (line.due.day - line.last.day).days == 90
    assert phone.send("/tests/interval", [*signed, ("trial", "safelight"), ("days", "7")]).status_code == 422
    monkeypatch.setattr(desk.trials(), "_today", lambda: line.last.day + timedelta(days=100))
    assert desk.trials().due()
    phone.send("/tests/interval", [*signed, ("trial", "safelight"), ("days", "365")])
    assert not desk.trials().due()
    phone.send("/tests/interval", [*signed, ("trial", "safelight"), ("days", "")])
    assert desk.trials().line("safelight").due.day is None
