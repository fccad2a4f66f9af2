"""Letting a phone in: a code of 8 digits to type, and a long secret for a picture; ten minutes, one use of the two.

A code can be guessed, so tries of it are counted: five a minute from one address, and sixty a minute from all together.
Where a stranger tries codes all the time, the secret still lets the owner in: it cannot be guessed, so no try of it
counts.
"""

from __future__ import annotations

import hmac
import secrets
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from controller.errors import WrongMoment
from controller.words import say

CODE_DIGITS: Final = 8
SECRET_BYTES: Final = 16
CODE_NS: Final = 600 * 1_000_000_000
TRIES: Final = 5
"""From one address, within `TRIES_NS`."""
TRIES_OF_ALL: Final = 60
TRIES_NS: Final = 60 * 1_000_000_000


@dataclass(frozen=True, slots=True)
class Invitation:
    """What lets one phone in: the code or the secret, whichever comes first."""

    code: str
    secret: str


class Pairing:
    """The keeper of codes; safe from any thread. `now_ns` is the monotonic clock's."""

    def __init__(self, now_ns: Callable[[], int]) -> None:
        self._now_ns = now_ns
        self._turn = threading.Lock()
        self._open: Invitation | None = None
        self._until_ns = 0
        self._tries: deque[tuple[int, str]] = deque(maxlen=TRIES_OF_ALL)

    def invite(self) -> Invitation:
        """Make a code and a secret; those before them are void."""
        code = f"{secrets.randbelow(10**CODE_DIGITS):0{CODE_DIGITS}d}"
        with self._turn:
            self._open = Invitation(code, secrets.token_urlsafe(SECRET_BYTES))
            self._until_ns = self._now_ns() + CODE_NS
            return self._open

    def new_code(self) -> str:
        """Make a code and a secret, and return the code."""
        return self.invite().code

    def try_code(self, code: str, address: str) -> bool:
        """Tell whether the code fits, and use it up.

        Raises:
            WrongMoment: from `address`, or from all together, too many have been tried within the last minute.
        """
        with self._turn:
            now_ns = self._now_ns()
            while self._tries and now_ns - self._tries[0][0] >= TRIES_NS:
                self._tries.popleft()
            if sum(tried == address for _, tried in self._tries) >= TRIES:
                raise WrongMoment(say("foot.pairing-too-many"))
            if len(self._tries) >= TRIES_OF_ALL:
                raise WrongMoment(say("foot.pairing-others"))
            self._tries.append((now_ns, address))
            return self._use(code, self._open.code if self._open else "", now_ns)

    def try_secret(self, secret: str) -> bool:
        """Tell whether the secret of a picture fits, and use it up; never refused for being tried too often."""
        with self._turn:
            return self._use(secret, self._open.secret if self._open else "", self._now_ns())

    def _use(self, given: str, wanted: str, now_ns: int) -> bool:
        fits = hmac.compare_digest(given.encode("utf-8", "replace"), wanted.encode())
        if not (wanted and fits and now_ns < self._until_ns):
            return False
        self._open = None
        return True
