"""Carries the grammar's effects out: rows into the journal, orders and sounds to the keeper, in the order of rule 9.

Intent committed → order sent → dark heard → fact committed → next order. Nothing waits for a disk while lit.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Protocol

from controller.errors import StoreTrouble
from controller.foot import effects as do
from controller.foot import events as told
from controller.foot.effects import Effect
from controller.foot.events import Event
from controller.foot.places import Focus, Light
from controller.foot.state import State
from controller.model import new_id
from controller.store.entries import (
    Added,
    Assumed,
    CalledGiven,
    Closed,
    Entry,
    FilterSaid,
    FootRow,
    Intent,
    LeftOut,
    LightCame,
    NoLightCame,
    RoomLit,
    SheetPlanned,
    Struck,
)
from hardware.errors import KeeperAway
from hardware.wire import Cancel, Order, RoomLight, Sound, ToKeeper


class Pipe(Protocol):
    """The way to the keeper: the tether's, or one in memory."""

    def send(self, message: ToKeeper) -> None:
        """Send; raises `KeeperAway`. No order is sent to another keeper than the one that is known."""

    def know(self, keeper: int) -> None:
        """Take note of the keeper (its process id) whose words have been taken in up to its greeting."""

    def stop(self, why: str = "page") -> None:
        """Dark now."""


class Filing(Protocol):
    """The journal, as the performer needs it."""

    def append(self, *entries: Entry) -> object:
        """File entries, all or none; raises `StoreTrouble`."""


@dataclass(frozen=True, slots=True)
class Standing:
    """An order that was sent, and what it is part of."""

    id: str
    number: int
    lit_ms: int
    kind: str


class Performer:
    """Owned by the runner's thread. Remembers which id an order number has, and what could not be filed yet."""

    def __init__(
        self,
        pipe: Pipe,
        journal: Filing,
        *,
        run: str,
        number: int,
        make_id: Callable[[], str] = new_id,
    ) -> None:
        self._pipe, self._journal, self._run, self._make_id = pipe, journal, run, make_id
        self.number = number
        """The running number of the sheet that is open, or that the next first light opens."""
        self.sheet = ""
        self._sheet_of: tuple[int, str] = (-1, "")
        self._planned: str = ""
        self._orders: dict[int, Standing] = {}
        self._unfiled: list[Entry] = []
        self._filing_trouble = self._arming_trouble = ""

    # ---- names

    def adopt_sheet(self, count: int, sheet: str) -> None:
        """Go on with a sheet that was open when the daemon started: its plan is on file."""
        self._sheet_of, self.sheet, self._planned = (count, sheet), sheet, sheet

    def number_of(self, id_: str) -> int | None:
        """Return the grammar's number of an order's id."""
        head, _, tail = id_.rpartition("-")
        return int(tail) if head == self._run and tail.isdigit() else None

    def id_of(self, order: int) -> str:
        """Return the id of the grammar's order number; orders of an earlier run keep theirs by `adopt_order`."""
        standing = self._orders.get(order)
        return standing.id if standing else f"{self._run}-{order}"

    def adopt_order(self, order: int, id_: str) -> None:
        """Let `order` stand for a light of an earlier run, so that it can be struck or assumed."""
        self._orders[order] = Standing(id_, order, 0, "step")

    def standing(self, order: int) -> Standing | None:
        """Return what was sent as `order`."""
        return self._orders.get(order)

    def follow(self, state: State) -> None:
        """Give the sheet under way an id; a sheet that brings no light leaves none behind."""
        count = -1 if state.work is None else state.work.sheet
        if count != self._sheet_of[0]:
            self.sheet = "" if state.work is None else self._make_id()
            self._sheet_of = (count, self.sheet)

    # ---- effects

    def perform(self, before: State, after: State, wanted: tuple[Effect, ...], now_ns: int) -> tuple[Event, ...]:
        """Carry effects out, in order; return what went wrong as events for the grammar.

        Entries wait in memory while a light is on, and are on disk before the next order is sent.
        """
        troubles: list[Event] = []
        self.follow(before)
        for effect in wanted:
            match effect:
                case do.PlaceOrder():
                    self.follow(after)
                    troubles += self._place(effect, after, now_ns)
                case do.Say():
                    self._try_send(Sound(effect.cue, effect.count))
                case do.TakeBack():
                    self._try_send(Cancel(self.id_of(effect.order)))
                case do.LightRoom():
                    # it comes on only where the word before was off
                    if self._try_send(RoomLight(False)):
                        self._try_send(RoomLight(True))
                case do.DarkenRoom():
                    self._try_send(RoomLight(False))
                case do.Darken():
                    self._pipe.stop("fault")
                case do.Refuse():
                    pass  # the answer to whoever asked; the runner gives it
                case do.FileClosed():
                    self._unfiled.append(Closed(sheet=self.sheet, outcome=effect.outcome, by=effect.by))
                    self.number += 1
                case _:
                    self._unfiled.append(self._entry(effect))
        self.follow(after)
        if not isinstance(after.place, Light | Focus):
            self.file()
        return tuple(troubles)

    def note(self, entry: Entry, *, lit: bool) -> None:
        """File an entry that is nobody's effect, such as a remark; it waits where a light is on."""
        self._unfiled.append(entry)
        if not lit:
            self.file()

    def file(self) -> bool:
        """Commit what waits. What cannot be filed is kept, and nothing is lit until it is."""
        if not self._unfiled:
            return True
        try:
            self._journal.append(*self._unfiled)
        except StoreTrouble as trouble:
            self._filing_trouble = str(trouble)
            return False
        self._unfiled.clear()
        self._filing_trouble = ""
        return True

    @property
    def store_trouble(self) -> str:
        """What kept rows from being filed, until they are, or the last light from being armed, until one is."""
        return self._filing_trouble or self._arming_trouble

    @property
    def unfiled(self) -> bool:
        """Whether anything waits to be filed."""
        return bool(self._unfiled)

    def _place(self, effect: do.PlaceOrder, after: State, now_ns: int) -> list[Event]:
        id_ = f"{self._run}-{effect.order}"
        step = 0
        if effect.kind != "focus":
            assert after.work is not None
            step = after.work.steps[effect.index].number
            if effect.kind == "step" and self._planned != self.sheet:
                self._unfiled.append(SheetPlanned(sheet=self.sheet, number=self.number, plan=after.work.plan))
        self._unfiled.append(
            Intent(
                light=id_,
                light_kind=effect.kind,
                sheet=self.sheet if effect.kind == "step" else "",
                step=step,
                part=effect.part,
                filter=effect.filter,
                lit_ms=effect.lit_ms,
                lag_ms=after.habits.lag_ms if effect.kind == "step" else 0,
                start_ns=effect.start_ns,
            )
        )
        if not self.file():
            self._arming_trouble = self._filing_trouble
            self._take_out(id_)
            return [told.StoreFailed(effect.order, now_ns, "foot.not-filed")]
        self._arming_trouble = ""
        if effect.kind == "step":
            self._planned = self.sheet
        self._orders[effect.order] = Standing(id_, effect.order, effect.lit_ms, effect.kind)
        for old in [number for number in self._orders if number < effect.order - _REMEMBERED]:
            del self._orders[old]
        order = Order(
            id=id_,
            kind=effect.kind,
            sheet="" if effect.kind == "check" else self.sheet,
            step=step,
            part=effect.part,
            lamp=effect.lamp,
            foot_seq=effect.foot_seq,
            start_ns=effect.start_ns,
            lit_ms=effect.lit_ms,
            cues=effect.cues,
        )
        if self._try_send(order):
            return []
        self._unfiled.append(NoLightCame(light=id_, why="keeper"))
        return [told.StoreFailed(effect.order, now_ns, "foot.keeper-away")]

    def _take_out(self, id_: str) -> None:
        """Drop an intent (and its sheet's plan) that was never sent; facts stay."""
        self._unfiled = [
            entry
            for entry in self._unfiled
            if not (isinstance(entry, Intent) and entry.light == id_)
            and not (isinstance(entry, SheetPlanned) and entry.sheet == self.sheet)
        ]

    def know(self, keeper: int) -> None:
        """Let orders be for this keeper: what is decided on the words of one is never sent to the next."""
        self._pipe.know(keeper)

    def send(self, message: ToKeeper) -> None:
        """Send a message of the runner's own, such as a lease; raises `KeeperAway`."""
        self._pipe.send(message)

    def _try_send(self, message: ToKeeper) -> bool:
        try:
            self._pipe.send(message)
        except KeeperAway:
            return False
        return True

    def _entry(self, effect: Effect) -> Entry:
        sheet = self.sheet
        match effect:
            case do.FileLight():
                return LightCame(
                    light=self.id_of(effect.order),
                    on_ns=effect.on_ns,
                    least_ns=effect.least_ns,
                    most_ns=effect.most_ns,
                    why=effect.why,  # type: ignore[arg-type]  # the model checks it
                )
            case do.FileNone():
                return NoLightCame(light=self.id_of(effect.order), why=effect.why)
            case do.FileStruck():
                return Struck(sheet=sheet, light=self.id_of(effect.order))
            case do.FileAssumed():
                return Assumed(sheet=sheet, light=self.id_of(effect.order), given_ns=effect.lit_ns)
            case do.FileCalled():
                return CalledGiven(sheet=sheet, step=effect.number, by=effect.by)
            case do.FileLeftOut():
                return LeftOut(sheet=sheet, step=effect.number)
            case do.FileAdded():
                return Added(sheet=sheet, step=effect.step)
            case do.FileFilter():
                return FilterSaid(filter=effect.filter)
            case do.FileRoom():
                return RoomLit(on=effect.on, at_ns=effect.at_ns, why=effect.why)
            case do.FileGesture():
                return FootRow(sheet=sheet, gesture=effect.gesture, at_ns=effect.at_ns)
            case _:
                raise TypeError(f"nothing is filed of {effect!r}")


_REMEMBERED: Final = 200
"""Orders whose ids are kept: far more than a sheet's steps and the corrections of its last light need."""
