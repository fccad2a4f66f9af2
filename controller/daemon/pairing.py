"""Pairing codes: 8 digits, ten minutes, one use; five tries a minute for all devices together."""

from __future__ import annotations

import hmac
import secrets
import threading
from collections import deque
from collections.abc import Callable
from typing import Final

from controller.errors import WrongMoment
from controller.model import new_id
from controller.words import say

CODE_DIGITS: Final = 8
CODE_NS: Final = 600 * 1_000_000_000
TRIES: Final = 5
TRIES_NS: Final = 60 * 1_000_000_000


class Pairing:
    """The keeper of codes; safe from any thread. `now_ns` is the monotonic clock's."""

    def __init__(self, now_ns: Callable[[], int]) -> None:
        self._now_ns = now_ns
        self._turn = threading.Lock()
        self._code = ""
        self._until_ns = 0
        self._tries: deque[int] = deque(maxlen=TRIES)

    def new_code(self) -> str:
        """Make a code; the one before it is void."""
        with self._turn:
            self._code = f"{secrets.randbelow(10**CODE_DIGITS):0{CODE_DIGITS}d}"
            self._until_ns = self._now_ns() + CODE_NS
            return self._code

    def try_code(self, code: str) -> str | None:
        """Return a new device's name where the code fits, and None where not.

        Raises:
            WrongMoment: five codes have been tried within the last minute.
        """
        with self._turn:
            now_ns = self._now_ns()
            if len(self._tries) == TRIES and now_ns - self._tries[0] < TRIES_NS:
                raise WrongMoment(say("foot.pairing-too-many"))
            self._tries.append(now_ns)
            fits = hmac.compare_digest(code.encode(), self._code.encode())
            if not (self._code and fits and now_ns < self._until_ns):
                return None
            self._code = ""
            return new_id()
