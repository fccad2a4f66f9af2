"""The desk of the trays: processes and baths as pages have them, and what toning did to a print."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Final

from controller.daemon.tray_shelf import InTray, TrayShelf
from controller.errors import NotThere, Unreadable
from controller.exposure.decimals import decimal_within
from controller.exposure.stops import shown
from controller.store.said_of_sheets import Toned
from controller.trays.ledger import LEAST_LITRES, MOST_LITRES, BathRules
from controller.trays.process import BathName, Process, Support
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.answers import Answers
    from controller.daemon.inbox import Inbox
    from controller.store.archive import Archive


class TrayDesk:
    """Safe from any thread."""

    def __init__(self, trays: TrayShelf, archive: Archive, inbox: Inbox, answers: Answers) -> None:
        self._trays, self._archive, self._inbox, self._answers = trays, archive, inbox, answers

    def processes(self) -> dict[Support, Process]:
        """Return the process for each support."""
        return self._trays.processes()

    def keep_process(self, process: Process) -> None:
        """Keep a process; it counts at once, or for the next sheet where one is open.

        Raises:
            StoreTrouble: it could not be written; nothing was kept.
            KeeperGone: it is kept, and taken over late.
        """
        self._trays.keep_process(process)
        self._inbox.ask(self._answers.settle_changes, even_late=True)

    def rules(self) -> BathRules:
        """Return how long baths last."""
        return self._trays.rules()

    def keep_rules(self, rules: BathRules) -> None:
        """Keep how long baths last. Raises `StoreTrouble`."""
        self._trays.keep_rules(rules)

    def in_trays(self) -> tuple[InTray, ...]:
        """Return each tray of the processes with the bath that stands in it."""
        return self._trays.in_trays()

    def make_fresh(self, tray: BathName, *, litres: str = "", use_by: str = "", both: bool = False) -> None:
        """Note that a tray has a fresh bath; of two fixes the second moves up into the first, unless it is `both`.

        Nothing typed is as much as before, to be used by the date that the rules give.

        Raises:
            Unreadable: no number of litres, or no date; its place is the field, and nothing is noted.
        """
        much = decimal_within(litres, LEAST_LITRES, MOST_LITRES) if litres else None
        if litres and much is None:
            raise Unreadable(
                say("trays.litres-wrong", found=shown(litres), least=f"{LEAST_LITRES:g}", most=f"{MOST_LITRES:g}"),
                ("litres",),
            )
        rows = self._trays.made_fresh(
            tray, litres=None if much is None else float(much), use_by=_day(use_by) if use_by else None, both=both
        )
        self._inbox.ask(lambda: self._answers.note(*rows), even_late=True)

    def tone(
        self, sheet: str, *, toner: str, dilution: str = "", minutes: str = "", did: str = "", instead: int = 0
    ) -> None:
        """Note that a print was toned, or say it otherwise of the toning `instead`; without a toner it is taken back.

        Raises:
            NotThere: there is no such sheet, or no such toning of it.
            Unreadable: no toner is named, or the minutes are no number; its place is the field.
        """
        record = self._archive.record(sheet)
        if not 0 <= instead <= len(record.toned):
            raise NotThere(say("trays.no-toning"))
        much = decimal_within(minutes, "0.1", _MOST_MINUTES) if minutes else None
        if minutes and much is None:
            raise Unreadable(say("trays.minutes-wrong", found=shown(minutes), most=_MOST_MINUTES), ("minutes",))
        if not toner and not instead:
            raise Unreadable(say("trays.toner-missing"), ("toner",))
        row = Toned(
            sheet=sheet,
            toner=toner[:_LONGEST],
            dilution=dilution[:_LONGEST],
            minutes=None if much is None else float(much),
            did=did[:_LONGEST_DID],
            instead=instead,
        )
        self._inbox.ask(lambda: self._answers.note(row), even_late=True)


_MOST_MINUTES: Final = 1440
_LONGEST: Final = 200
_LONGEST_DID: Final = 2000


def _day(text: str) -> str:
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise Unreadable(say("trays.day-wrong", found=shown(text)), ("use-by",)) from None
