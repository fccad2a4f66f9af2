"""Several that work at the same time, each in a darkroom of its own: most of what they do is wait for light."""

from __future__ import annotations

import threading
from abc import abstractmethod
from collections.abc import Sequence
from itertools import chain


class Hand(threading.Thread):
    """One that works until its work is done, and keeps what was wrong with what it saw."""

    def __init__(self, name: str) -> None:
        super().__init__(name=name)
        self.wrong: list[str] = []

    @abstractmethod
    def work(self) -> None:
        """Do all of it."""

    def run(self) -> None:
        try:
            self.work()
        except Exception as problem:  # noqa: BLE001 - a thread's top: the test that waits for it fails
            self.wrong.append(f"{self.name}: {type(problem).__name__}: {problem}")


def work_together(hands: Sequence[Hand]) -> None:
    """Let all of them work, wait for the last, and fail where anything was wrong with any."""
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()
    wrong = list(chain.from_iterable(hand.wrong for hand in hands))
    assert not wrong, "\n".join(wrong)
