"""The runner's inbox: every question is answered in time, and what was not begun in time is not begun late."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from typing import cast

import pytest

from controller.daemon.inbox import Inbox
from controller.daemon.runner import Runner, Word
from controller.errors import KeeperGone
from hardware.clock import MonotonicClock
from hardware.wire import Accepted


class Core:
    """Stands in for the runner: nothing is ever due, and a word breaks it."""

    def due_ns(self) -> int | None:
        return None

    def advance(self, now_ns: int) -> None:
        """Do nothing."""

    def take(self, word: Word, now_ns: int) -> None:
        raise RuntimeError("broken on purpose")


class Inboxes:
    """Starts inboxes, and ends them."""

    def __init__(self) -> None:
        self._made: list[Inbox] = []

    def __call__(self, broken: object = lambda _problem: None) -> Inbox:
        inbox = Inbox(MonotonicClock(), broken)  # type: ignore[arg-type]
        inbox.start(cast(Runner, Core()))
        self._made.append(inbox)
        return inbox

    def close(self) -> None:
        for inbox in self._made:
            inbox.close()


@pytest.fixture
def inboxes() -> Iterator[Inboxes]:
    made = Inboxes()
    yield made
    made.close()


def test_what_was_told_as_failed_is_not_done_later(inboxes: Inboxes) -> None:
    """Who asks of a thread that hangs is told in time that nobody answers; the work is not done once it goes on."""
    inbox, go_on = inboxes(), threading.Event()
    done: list[str] = []
    inbox.call(lambda: go_on.wait(5))
    with pytest.raises(KeeperGone):
        inbox.ask(lambda: done.append("late"), 0.05)
    go_on.set()
    assert inbox.ask(lambda: "answer") == "answer"
    assert done == []


def test_what_came_before_the_start_waits_for_the_first_act() -> None:
    """What the thread must do before all else, as taking the journal over, is done before a word that came before."""
    order: list[str] = []

    class Taking(Core):
        def take(self, word: Word, now_ns: int) -> None:
            order.append("word")

    inbox = Inbox(MonotonicClock(), lambda _problem: None)
    inbox.put(Accepted("light"))
    inbox.start(cast(Runner, Taking()), lambda: order.append("first"))
    inbox.close()
    assert order == ["first", "word"]


def test_what_is_under_way_is_done(inboxes: Inboxes) -> None:
    """Work that has begun cannot be withdrawn: whoever asked is told that nobody answers, and it goes on."""
    inbox, begun, go_on = inboxes(), threading.Event(), threading.Event()
    done: list[str] = []

    def work() -> None:
        begun.set()
        assert go_on.wait(5)
        done.append("done")

    with pytest.raises(KeeperGone):
        inbox.ask(work, 0.05)
    assert begun.wait(5)
    go_on.set()
    inbox.ask(lambda: None)
    assert done == ["done"]


def test_an_error_is_the_asker_s(inboxes: Inboxes) -> None:
    """What goes wrong in the work is raised to whoever asked, and breaks nothing."""
    inbox = inboxes()
    with pytest.raises(ZeroDivisionError):
        inbox.ask(lambda: 1 // 0)
    assert inbox.ask(lambda: 7) == 7


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_broken_runner_answers_whatever_else_breaks(inboxes: Inboxes) -> None:
    """Once the runner broke every question is refused at once, even where what should say so on the page broke too."""

    def worse(_problem: Exception) -> None:
        raise RuntimeError("broken too, on purpose")

    inbox, hung = inboxes(worse), threading.Event()
    inbox.call(lambda: hung.wait(5))
    withdrawn = inbox.call(lambda: None)
    assert withdrawn.cancel()
    inbox.put(Accepted("light"))
    hung.set()
    for _ in range(2):
        with pytest.raises(KeeperGone, match=r"\w+ \w+"):
            inbox.call(lambda: None).result(5)
