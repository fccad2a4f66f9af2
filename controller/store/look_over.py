"""Looks journal and shelf over, every page, in the background of a running daemon, and says what it found.

A daemon is ready after a glance at both, however large they are. What the look over finds stays on file until another
one finds nothing, so that the next start and `treadle check` say it at once, and it is noted in the journal only once.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Final

from controller.errors import Damaged, StoreTrouble
from controller.files import write_whole
from controller.store.folder import DataFolder
from controller.store.schemas import JOURNAL, SHELF
from controller.store.whole import GivenUp, check_whole

QUIET_SECONDS: Final = 10.0
"""So long nothing may be going on before it is begun, at first and again."""

_log = logging.getLogger(__name__)


def damage_on_file(data: DataFolder) -> tuple[str, ...]:
    """Return what the last look over found, in words."""
    try:
        return tuple(data.damage.read_text("utf-8").splitlines())
    except (OSError, UnicodeDecodeError):
        return ()


class LookOver:
    """Looks both files over once, in a thread of its own between `start` and `stop`.

    It is given up while `busy` says that a sheet is open or light is on, and begun again once all is quiet. `told`
    gets, on that thread, the sentences that are new, after each look over that found other things than the last.
    """

    def __init__(self, data: DataFolder, busy: Callable[[], bool], told: Callable[[Sequence[str]], None]) -> None:
        self._data, self._busy, self._told = data, busy, told
        self._found = damage_on_file(data)
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, name="look over", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End; what is under way is given up. Stopping twice does nothing."""
        self._ending.set()
        if self._thread.ident is not None:
            self._thread.join()

    def sentences(self) -> tuple[str, ...]:
        """Return what is known to be wrong."""
        return self._found

    def _run(self) -> None:
        while not self._ending.wait(QUIET_SECONDS):
            with suppress(GivenUp):
                self._give_way()
                self._keep(tuple(self._look()))
                return

    def _look(self) -> list[str]:
        found = []
        for path, schema in ((self._data.journal, JOURNAL), (self._data.shelf, SHELF)):
            try:
                check_whole(path, schema, self._give_way)
            except Damaged as problem:
                found.append(str(problem))
            except StoreTrouble as problem:
                _log.warning("not looked over: %s", problem)
        return found

    def _keep(self, found: tuple[str, ...]) -> None:
        before, self._found = self._found, found
        if found == before:
            return
        try:
            if found:
                write_whole(self._data.damage, "".join(f"{words}\n" for words in found).encode())
            else:
                self._data.damage.unlink(missing_ok=True)
        except OSError as problem:
            _log.warning("what was found is not kept: %s", problem)
        self._told(tuple(words for words in found if words not in before))

    def _give_way(self) -> None:
        if self._ending.is_set() or self._busy():
            raise GivenUp
