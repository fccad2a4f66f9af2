"""The desk of the trays: processes and baths as pages have them, and what toning did to a print."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from controller.daemon.tray_shelf import InTray, TrayShelf
from controller.errors import Unreadable
from controller.exposure.decimals import decimal_within
from controller.exposure.stops import shown
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


def _day(text: str) -> str:
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise Unreadable(say("trays.day-wrong", found=shown(text)), ("use-by",)) from None
