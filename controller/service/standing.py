"""How a running daemon stands, in a few lines: what `treadle status` prints, and `systemctl status` shows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final, Literal

from controller.addresses import Places
from controller.model import Frozen
from controller.words import say

if TYPE_CHECKING:  # whoever asks a daemon how it stands needs none of what it is made of
    from controller.daemon.desk import Desk
    from controller.foot.status import Status

_PLACES_NS: Final = 5_000_000_000
"""So long the addresses that were found last are good enough for a line that nobody may be reading."""
Lamp = Literal["lit", "dark", "in doubt"]


class Standing(Frozen):
    """How a daemon stands at one moment."""

    lamp: Lamp
    """In doubt: there is no keeper that would know."""
    sheet: str = ""
    """Id of the sheet that is open; empty where none is."""
    sheet_number: int | None = None
    practice: bool
    keeper: Literal["ready", "away", "fault"]
    where: Places
    since: str
    """By the wall's clock, to the minute."""
    troubles: tuple[str, ...] = ()

    def lines(self) -> tuple[str, ...]:
        """Return it in words."""
        return tuple(self._lines())

    def _lines(self) -> Iterator[str]:
        yield say("command.standing-practice" if self.practice else "command.standing-serves", since=self.since)
        yield say(f"command.standing-lamp-{_key(self.lamp)}")
        yield (
            say("command.standing-sheet", number=self.sheet_number) if self.sheet else say("command.standing-no-sheet")
        )
        yield where_words(self.where)
        yield from (say("command.note", words=words) for words in self.troubles)

    def short(self) -> str:
        """Return lamp and address, as one line for the service manager."""
        return say(
            "command.standing-short", lamp=say(f"command.standing-short-{_key(self.lamp)}"), place=self.where.best()
        )


def stand(status: Status, where: Places, started_ns: int) -> Standing:
    """Return how a daemon stands that was started at `started_ns` of the clock of its snapshots."""
    started = datetime.now().astimezone() - timedelta(microseconds=(status.at_ns - started_ns) // 1000)
    return Standing(
        lamp="in doubt" if status.keeper != "ready" else "lit" if status.lit is not None else "dark",
        sheet=status.sheet if status.open else "",
        sheet_number=status.sheet_number if status.open else None,
        practice=status.practice,
        keeper=status.keeper,
        where=where,
        since=f"{started:%Y-%m-%d %H:%M}",
        troubles=status.troubles,
    )


class Shown:
    """The line for the service manager, made anew whenever it is asked for; addresses are looked up now and then."""

    def __init__(self, desk: Desk, where: Callable[[], Places]) -> None:
        self._desk, self._where, self._places = desk, where, where()
        self._started_ns = self._looked_ns = desk.now_ns()

    def standing(self) -> Standing:
        """Return how things stand now."""
        return stand(self._desk.status(), self._where(), self._started_ns)

    def line(self) -> str:
        """Return lamp and address in one line, cheaply."""
        now_ns = self._desk.now_ns()
        if now_ns - self._looked_ns >= _PLACES_NS:
            self._places, self._looked_ns = self._where(), now_ns
        return stand(self._desk.status(), self._places, self._started_ns).short()


def where_words(where: Places) -> str:
    """Return where the page is: for a phone as well, or on this machine alone; true later, too."""
    if where.alone:
        return say("command.address-here", local=where.local)
    if not where.addresses:
        return say("command.address-later", later=where.name or say("command.by-number"), local=where.local)
    return say("command.address", address="   ".join((*where.addresses, where.name)).rstrip(), local=where.local)


def _key(lamp: Lamp) -> str:
    return lamp.replace(" ", "-")
