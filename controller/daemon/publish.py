"""The latest snapshot and the troubles it tells of, for any thread to read or wait for."""

from __future__ import annotations

import threading
from collections import deque
from typing import Final

from controller.foot.status import Heard, Status
from controller.words import has, say
from hardware.wire import Sounded

_KEPT_CUES: Final = 100


class Snapshots:
    """One snapshot at a time, numbered from 1; the number rises only when something has changed."""

    def __init__(self) -> None:
        self._turn = threading.Condition()
        self._status: Status | None = None
        self._cues: deque[Heard] = deque(maxlen=_KEPT_CUES)
        self._cue = 0

    def publish(self, status: Status) -> Status:
        """Publish a snapshot and return it with its number; one that says nothing new is dropped."""
        with self._turn:
            old = self._status
            if old is not None and old == status.model_copy(update={"number": old.number, "at_ns": old.at_ns}):
                return old
            self._status = status.model_copy(update={"number": 1 if old is None else old.number + 1})
            self._turn.notify_all()
            return self._status

    def latest(self) -> Status:
        """Return the present snapshot.

        Raises:
            LookupError: nothing has been published yet.
        """
        with self._turn:
            if self._status is None:
                raise LookupError("no snapshot yet")
            return self._status

    def wait(self, after: int, timeout_s: float) -> Status:
        """Return the present snapshot as soon as its number is above `after`, or at the timeout."""
        with self._turn:
            self._turn.wait_for(lambda: self._status is not None and self._status.number > after, timeout_s)
        return self.latest()

    def note_cue(self, sounded: Sounded) -> None:
        """Note a cue."""
        with self._turn:
            self._cue += 1
            self._cues.append(Heard(number=self._cue, cue=sounded.cue, count=sounded.count, at_ns=sounded.at_ns))
            self._turn.notify_all()

    def cues(self, after: int) -> tuple[Heard, ...]:
        """Return the cues sounded since cue number `after`, at most the last hundred."""
        with self._turn:
            return tuple(cue for cue in self._cues if cue.number > after)


_KEPT: Final = 5


class Troubles:
    """The troubles that were told, in the order in which they came; a repeated one counts as the newest."""

    def __init__(self) -> None:
        self._told: tuple[str, ...] = ()

    def add(self, what: str) -> None:
        """Take in a trouble: the keeper's word for it, a key of the catalogue, or a sentence."""
        key = _SAID_OF.get(what, what)
        self._told = (*(told for told in self._told if told != key), key)[-_KEPT:]

    def mended_by_foot(self) -> None:
        """Drop what a foot switch that answers again has mended."""
        self._drop(_BY_FOOT)

    def mended_by_light(self) -> None:
        """Drop what a light that came has mended."""
        self._drop(_BY_LIGHT)

    def mended_by_greeting(self) -> None:
        """Drop what a new keeper has mended."""
        self._drop(_BY_GREETING)

    def sentences(self) -> list[str]:
        """Return the sentences to show, oldest first."""
        return [say(key) if has(key) else key for key in self._told]

    def _drop(self, mended: frozenset[str]) -> None:
        self._told = tuple(key for key in self._told if key not in mended)


_SAID_OF: Final = {
    "keeper.unreadable": "foot.trouble-unreadable",
    "keeper.dropped": "foot.trouble-dropped",
    "keeper.sounder": "foot.trouble-sounder",
    "keeper.foot-wire": "foot.trouble-foot-wire",
    "keeper.outlet": "foot.trouble-outlet",
}
_BY_FOOT: Final = frozenset({"foot.trouble-foot-wire"})
_BY_LIGHT: Final = frozenset(
    {"foot.trouble-slow-card", "foot.trouble-too-long", "foot.box-open", "wiring.trouble-no-lamp"}
)
_BY_GREETING: Final = frozenset({"foot.trouble-late-dark", "foot.trouble-unreadable", "foot.trouble-dropped"})
