"""The phones that were paired: what each is called, when it was last seen, and which of them were put out.

A phone's cookie is signed and counts for ever, so what has to be remembered is who was put out. Who is on the list is
for people to look at: a phone that is not on it, since it was paired before there was a list or since others have
pushed it off, counts all the same, and comes on it when it is next seen.
"""

from __future__ import annotations

import logging
import secrets
import threading
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import Field, ValidationError

from controller import wall
from controller.errors import Impossible, NotThere, StoreTrouble
from controller.files import write_whole
from controller.model import Frozen
from controller.words import say

FILE: Final = "phones.json"
LISTED_AT_MOST: Final = 60
"""One more pushes off who was not seen for longest."""
OUT_AT_MOST: Final = 2000
RED_LEVELS: Final = 5
"""How bright a phone's dark page may be, from 1; what a level looks like is the page's matter."""
_log = logging.getLogger(__name__)


class FogTest(Frozen):
    """The brightest red that left no mark on paper, as found for one phone beside one paper."""

    level: Annotated[int, Field(ge=1, le=RED_LEVELS)]
    paper: Annotated[str, Field(min_length=1, max_length=80)]
    day: date


class PhoneLine(Frozen):
    """One paired phone, for people to look at."""

    name: str
    paired: str
    seen: str

    def words(self) -> str:
        """Return it in words."""
        paired = say("command.phone-paired", day=self.paired) if self.paired else say("command.phone-before")
        return say("command.phone", name=self.name, paired=paired, seen=self.seen)


class Phone(Frozen):
    """One paired phone."""

    mark: str
    """What its cookie says; random."""
    name: str
    paired: str = ""
    """The day on which it was paired, as ISO text; empty where that was before there was a list."""
    seen: str = ""
    """The day on which it was last seen."""
    fog_test: FogTest | None = None
    """None where no red of it was tested; every level but the lowest is then a guess."""

    def line(self) -> PhoneLine:
        """Return it without its mark."""
        return PhoneLine(name=self.name, paired=self.paired, seen=self.seen)


class PhoneList(Frozen):
    """All paired phones, last seen first, as the command line prints them."""

    phones: tuple[PhoneLine, ...]

    def lines(self) -> tuple[str, ...]:
        """Return them in words."""
        return tuple(phone.words() for phone in self.phones) or (say("command.no-phones"),)


class _Kept(Frozen):
    format: Literal["treadle/phones/1"] = "treadle/phones/1"
    named: int = 0
    """How many names were given: none is given twice."""
    phones: tuple[Phone, ...] = ()
    out: tuple[str, ...] = ()
    """The marks of those that were put out."""


def _today() -> str:
    return wall.now().astimezone().date().isoformat()


class Phones:
    """The list, safe from any thread; nobody who asks it waits for the card, but who puts a phone out."""

    def __init__(self, folder: Path, today: Callable[[], str] = _today) -> None:
        self._place, self._today = folder / FILE, today
        self._turn, self._writing = threading.Lock(), threading.Lock()
        self._named = 0
        self._phones: dict[str, Phone] = {}
        self._out: frozenset[str] = frozenset()
        self._unwritten = False
        self._writer: threading.Thread | None = None

    def open(self) -> bool:
        """Read the list; False where it is damaged, so that nobody knows who was put out. It is then set aside.

        Raises:
            StoreTrouble: it cannot be read.
        """
        try:
            kept = _Kept.model_validate_json(self._place.read_bytes())
        except FileNotFoundError:
            return True
        except ValidationError:
            aside = self._place.with_suffix(".damaged")
            self._place.replace(aside)
            _log.warning("the list of paired phones is damaged and lies in %s: every phone pairs again", aside)
            return False
        except OSError as problem:
            raise StoreTrouble(say("store.folder", path=self._place, detail=problem.strerror)) from problem
        self._named, self._out = kept.named, frozenset(kept.out)
        self._phones = {phone.mark: phone for phone in kept.phones}
        return True

    def close(self) -> None:
        """Bring to the card what is not there yet; closing twice does nothing."""
        with self._turn:
            writer, self._writer = self._writer, None
        if writer is not None:
            writer.join()
        if self._unwritten:
            self._write_if_it_can()

    def is_out(self, mark: str) -> bool:
        """Tell whether a phone was put out; waits for nothing, so that STOP may ask."""
        return mark in self._out

    def add(self) -> Phone:
        """Put a phone that is just being paired on the list, under a mark and a name of its own."""
        with self._turn:
            day = self._today()
            phone = self._enter(secrets.token_hex(16), paired=day, seen=day)
        self._write_soon()
        return phone

    def seen(self, mark: str) -> None:
        """Note that a phone was seen today; at most once a day anything is written of it."""
        with self._turn:
            day, known = self._today(), self._phones.get(mark)
            if mark in self._out or (known is not None and known.seen == day):
                return
            if known is None:
                self._enter(mark, paired="", seen=day)
            else:
                self._phones[mark] = known.model_copy(update={"seen": day})
        self._write_soon()

    def fog_test(self, mark: str) -> FogTest | None:
        """Return what a phone was tested for, or None."""
        known = self._phones.get(mark)
        return None if known is None else known.fog_test

    def tested(self, mark: str, found: FogTest | None) -> None:
        """Keep what a phone was found to be safe for; the last test counts. None: it was tested for nothing."""
        with self._turn:
            known = self._phones.get(mark)
            if known is None:
                known = self._enter(mark, paired="", seen=self._today())
            self._phones[mark] = known.model_copy(update={"fog_test": found})
        self._write_soon()

    def listed(self) -> tuple[Phone, ...]:
        """Return the phones, last seen first."""
        with self._turn:
            return tuple(sorted(self._phones.values(), key=lambda phone: phone.seen, reverse=True))

    def list_lines(self) -> PhoneList:
        """Return the phones without their marks, last seen first."""
        return PhoneList(phones=tuple(phone.line() for phone in self.listed()))

    def put_out(self, name: str) -> None:
        """Let a phone's cookie count no longer, from this moment on.

        Raises:
            NotThere: no phone of that name is on the list.
            Impossible: too many have been put out; the sentence says how all can be.
            StoreTrouble: the phone is out, but that could not be kept, so it would be back after a restart.
        """
        with self._turn:
            phone = next((phone for phone in self._phones.values() if phone.name == name), None)
            if phone is None:
                raise NotThere(say("command.no-phone", name=name[:40]))
            if len(self._out) >= OUT_AT_MOST:
                raise Impossible(say("command.phones-out-full", most=OUT_AT_MOST))
            del self._phones[phone.mark]
            self._out |= {phone.mark}
            self._unwritten = True
        try:
            self._write()
        except OSError as problem:
            raise StoreTrouble(say("command.phone-out-unkept", name=name, detail=problem.strerror)) from problem

    def _enter(self, mark: str, *, paired: str, seen: str) -> Phone:
        if len(self._phones) >= LISTED_AT_MOST:
            del self._phones[min(self._phones.values(), key=lambda phone: phone.seen).mark]
        self._named += 1
        phone = Phone(mark=mark, name=say("command.phone-name", number=self._named), paired=paired, seen=seen)
        self._phones[mark] = phone
        return phone

    def _write_soon(self) -> None:
        """Write in a thread of its own: whoever was seen does not wait for the card."""
        with self._turn:
            self._unwritten = True
            if self._writer is None or not self._writer.is_alive():
                self._writer = threading.Thread(target=self._write_if_it_can, name="phones", daemon=True)
                self._writer.start()

    def _write_if_it_can(self) -> None:
        try:
            self._write()
        except OSError as problem:  # tried again with the next change, and at the end
            _log.warning("the list of paired phones was not written: %s", problem)

    def _write(self) -> None:
        with self._writing:
            while True:
                with self._turn:
                    if not self._unwritten:
                        return
                    self._unwritten = False
                    phones = tuple(self._phones.values())
                    kept = _Kept(named=self._named, phones=phones, out=tuple(sorted(self._out)))
                try:
                    write_whole(self._place, kept.model_dump_json(indent=1).encode(), mode=0o600)
                except OSError:
                    self._unwritten = True
                    raise
