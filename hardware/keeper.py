"""The keeper: it alone lights the lamp, times it, darkens it, and listens to the foot.

This core knows no process, no pipe and no clock: every moment is passed in, so that it runs in virtual time.
`hardware.keeping` is the process around it.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Callable
from dataclasses import asdict, replace
from typing import Final

from hardware import wire
from hardware.debounce import Debounce, Down, Hold, Known, Stuck, Up
from hardware.errors import HardwareError
from hardware.lines import Lines
from hardware.record import Record
from hardware.slate import Page, Slate
from hardware.sounds import Cue, notes
from hardware.timing import Timing
from hardware.wire import Dark, FromKeeper, Lit, Order, Reason, ToKeeper, What

_MS: Final = 1_000_000
_KINDS: Final = frozenset({"step", "focus", "check"})
_BETWEEN_LAMPS_NS: Final = 50 * _MS
_LID_SHUT_NS: Final = 60 * _MS
_STALE_BEAT_NS: Final = 200 * _MS
"""A beat this late counts nothing any more; better none than a wrong one."""
_EXACT_NS: Final = 2 * _MS
"""A sleep that ends this close to a light's moment would spoil it by coming back late."""
_IDS: Final = 20_000
"""So many are remembered, so that an order told twice brings no second light."""


class Keeper:
    """The lamp, the foot and what may happen between them.

    Call `greet` once. Then, for ever: `poll` and `receive` whatever has come, `advance` to the present, wait until
    `due_ns`. A line is set before anything is said of it, and where a foot-down or a stop ends something, its `Dark`
    or `Cancelled` is sent before the `FootDown` or `Stopped`. A lid contact is closed while the lid is shut, so that a
    broken wire counts as open. An open lid ends focus light and keeps any other from coming on; a step that is lit
    goes on.
    """

    def __init__(
        self,
        lines: Lines,
        timing: Timing,
        slate: Slate | None,
        send: Callable[[FromKeeper], object],
        boot: str,
        pid: int,
        *,
        now_ns: int = 0,
        steps_with_lid_open: bool = False,
    ) -> None:
        """Take the lines and drive them dark. `send` raises `BlockingIOError` where the pipe is full; that darkens."""
        lines.dark()
        self._lines, self._timing = lines, timing
        self._sounder = lines.sounder
        self._steps_with_lid_open = steps_with_lid_open
        self._foot = Debounce(timing, at_ns=now_ns, closed=lines.foot.closed())
        self._stuck = False
        self._seq = self._held_ns = 0  # up to `_held_ns`, a light that comes on was begun by a press that was none
        self._order: Order | None = None
        self._on_ns: int | None = None  # since when it is lit; None while it is pending
        self._end_ns = self._lease_ns = 0
        self._beats: deque[tuple[int, Cue]] = deque()
        self._seen: dict[str, None] = {}
        self._last_lamp, self._last_dark_ns = "", now_ns - _BETWEEN_LAMPS_NS
        self._lid_open = lines.lid is not None and not lines.lid.closed()
        self._lid_shut_ns: int | None = None  # when a lid that has just been shut counts as shut
        self._record = Record(send, slate, Page(boot, pid), now_ns)
        self._ended = False

    @property
    def lit(self) -> bool:
        """Whether a lamp line is lit."""
        return self._on_ns is not None

    def greet(self, now_ns: int, *, scheduling: str = "other", locked: bool = False) -> None:
        """Say who this is: `Greeting`, and `Lid` where one is fitted."""
        fitted = {"sounder": self._sounder, "lid": self._lines.lid}
        features = tuple(name for name, line in fitted.items() if line is not None)
        self._say(
            wire.Greeting(
                protocol=wire.PROTOCOL,
                pid=self._record.page.pid,
                boot=self._record.page.boot,
                at_ns=now_ns,
                practice=self._lines.practice,
                lamps=tuple(self._lines.lamps),
                features=(*features, *(f for f in self._lines.features if f not in features)),
                scheduling=scheduling,
                locked=locked,
                timing=json.dumps(asdict(self._timing)),
                at_rest=self._foot.at_rest(now_ns),
            ),
            now_ns,
        )
        if self._lines.lid is not None:
            self._say(wire.Lid(self._lid_open, now_ns), now_ns)

    # ---- what the daemon says

    def receive(self, message: ToKeeper | FromKeeper, now_ns: int) -> None:
        """Take a message of the daemon; one that only a keeper says counts as unreadable."""
        match message:
            case wire.Stop(why):
                self._stop("page" if why == "page" else "fault", now_ns)
            case wire.Cancel(id_):
                if self._order is not None and not self.lit and self._order.id == id_:
                    self._drop_order("cancel", now_ns)
            case wire.Lease(id_):
                self.advance(now_ns)  # a lease that has run out is not renewed
                if self._order is not None and self.lit and self._order.id == id_ and self._order.kind == "focus":
                    self._lease_ns = now_ns + self._timing.lease_ms * _MS
            case Order():
                self.advance(now_ns)  # the foot first
                reason = self._objection(message, now_ns)
                self._seen[message.id] = None
                if len(self._seen) > _IDS:
                    del self._seen[next(iter(self._seen))]
                if reason is not None:
                    self._say(wire.Refused(message.id, reason, now_ns), now_ns)
                else:
                    self._accept(message, now_ns)
            case wire.Sound(cue, count):
                self._sound(Cue(cue), count, now_ns)
            case _:
                self.unreadable(now_ns)

    def unreadable(self, now_ns: int) -> None:
        """Take note that a line was no message: dark, nothing pending, `Trouble` and `Stopped` (why "fault")."""
        self._drop_order("fault", now_ns)
        self._say(wire.Trouble(What.UNREADABLE, now_ns), now_ns)
        self._stop("fault", now_ns)

    def _objection(self, order: Order, now_ns: int) -> str | None:
        """Return why this order brings no light, or None."""
        timing, start_ns, focus = self._timing, order.start_ns, order.kind == "focus"
        first_ns, rest_ns = self._foot.first_contact_ns, self._foot.rest_ns()
        objections = (
            (order.id in self._seen, Reason.SEEN),
            (self._stuck, Reason.FAULT),
            # one that is ahead was meant for another keeper
            (order.foot_seq != self._seq or (start_ns <= self._held_ns and not focus), Reason.FOOT),
            (self._order is not None, Reason.BUSY),
            (order.kind not in _KINDS, Reason.KIND),
            (order.lamp not in self._lines.lamps, Reason.LAMP),
            (order.lit_ms < 1, Reason.SHORT),
            (order.lit_ms > (timing.focus_limit_ms if focus else timing.longest_light_ms), Reason.LONG),
            (start_ns < now_ns, Reason.PAST),
            (start_ns > now_ns + timing.farthest_start_ms * _MS, Reason.FAR),
            (first_ns is not None and start_ns < first_ns + timing.after_contact_ms * _MS, Reason.CONTACT),
            (
                (now_ns + timing.up_open_ms * _MS if rest_ns is None else rest_ns) > self._rest_by(order),
                Reason.NOT_AT_REST,
            ),
            (order.lamp != self._last_lamp and start_ns < self._last_dark_ns + _BETWEEN_LAMPS_NS, Reason.BUSY),
            (self._lid_open and not self._may_stay(order), Reason.LID),
            (focus and self._sounder is None, Reason.SILENT),
        )
        return next((reason for wrong, reason in objections if wrong), None)

    def _accept(self, order: Order, now_ns: int) -> None:
        self._order = order
        before = ((order.start_ns + beat.at_ms * _MS, Cue(beat.cue)) for beat in order.cues if beat.at_ms < 0)
        self._beats = deque(sorted(beat for beat in before if beat[0] >= now_ns - _STALE_BEAT_NS))
        page = replace(self._record.page, id=order.id, kind=order.kind, sheet=order.sheet, lit_ms=order.lit_ms)
        self._record.note(replace(page, on_ns=0, dark_ns=0, why=""), now_ns)
        self._say(wire.Accepted(order.id), now_ns)

    def _may_stay(self, order: Order) -> bool:
        """Return whether a pending order may stand while the lid is open."""
        return order.kind == "step" and self._steps_with_lid_open

    # ---- what the foot and the lid say

    def poll(self, now_ns: int) -> None:
        """Take the edges that wait at the foot and the lid, and their levels as the second path."""
        foot, lid = self._lines.foot, self._lines.lid
        for at_ns, closed in foot.edges():
            self._foot.edge(at_ns, closed)
        self._foot.edge(now_ns, foot.closed())
        if lid is not None:
            opened, shut = any(not shut for _, shut in lid.edges()), lid.closed()
            if opened or not shut:
                self._lid_shut_ns = None
                if not self._lid_open:
                    self._lid(True, now_ns)
            if shut and self._lid_open and self._lid_shut_ns is None:
                self._lid_shut_ns = now_ns + _LID_SHUT_NS

    def _heard(self, known: Known, now_ns: int) -> None:
        match known:
            case Down(first_ns):
                self._seq += 1
                lit = self._order.id if self._order is not None and self.lit else ""
                self._drop_order("foot", now_ns)
                self._say(wire.FootDown(self._seq, first_ns, now_ns, lit), now_ns)
            case Up(opened_ns):
                self._stuck = False
                self._say(wire.FootUp(self._seq, opened_ns, now_ns), now_ns)
            case Hold(first_ns):
                self._held_ns = first_ns + self._timing.announced_ms(sounder=self._sounder is not None) * _MS
                self._drop_order("foot", now_ns)
                self._say(wire.FootHold(self._seq, first_ns, now_ns), now_ns)
            case Stuck():
                self._stuck = True
                self._drop_order("fault", now_ns)
                self._say(wire.FootStuck(self._seq, now_ns), now_ns)

    def _lid(self, opened: bool, now_ns: int) -> None:
        self._lid_open, self._lid_shut_ns = opened, None
        order = self._order
        if opened and order is not None and (order.kind == "focus" if self.lit else not self._may_stay(order)):
            self._drop_order("lid", now_ns)
        self._say(wire.Lid(opened, now_ns), now_ns)

    # ---- what time brings

    def advance(self, now_ns: int) -> None:
        """Do everything that is due: the foot first, since it only ever takes light away."""
        for known in self._foot.advance(now_ns):
            if self._order is not None and self.lit and min(self._end_ns, self._lease_ns) <= known.at_ns:
                self._run_out(self._order, now_ns)
            self._heard(known, now_ns)
        if self._lid_shut_ns is not None and self._lid_shut_ns <= now_ns:
            self._lid(False, now_ns)
        light_ns = self._light_due()
        if self._order is not None and light_ns is not None and light_ns <= now_ns:
            if self.lit:
                self._run_out(self._order, now_ns)
            else:
                self._begin(self._order, now_ns)
        while self._beats and self._beats[0][0] <= now_ns:
            at_ns, cue = self._beats.popleft()
            if now_ns - at_ns <= _STALE_BEAT_NS:
                self._sound(cue, 0, now_ns)
        self._record.advance(now_ns)

    def due_ns(self) -> int | None:
        """Return the next moment at which `advance` has something to do if nothing comes before."""
        beat_ns = self._beats[0][0] if self._beats else None
        dues = (self._light_due(), self._foot.due_ns(), self._lid_shut_ns, beat_ns, self._record.due_ns())
        return min((due for due in dues if due is not None), default=None)

    def exact_due(self) -> bool:
        """Return whether the next due moment is a light's, to be met to some microseconds, or close before one."""
        light_ns, due_ns = self._light_due(), self.due_ns()
        return light_ns is not None and due_ns is not None and light_ns - due_ns < _EXACT_NS

    def _light_due(self) -> int | None:
        """Return when the order's light comes on or is given up, or goes out."""
        if self._order is None:
            return None
        if self.lit:
            return min(self._end_ns, self._lease_ns)
        by_ns, rest_ns = self._rest_by(self._order), self._foot.rest_ns()
        return by_ns if rest_ns is None or rest_ns > by_ns else max(self._order.start_ns, rest_ns)

    def _rest_by(self, order: Order) -> int:
        """Return by when the contact must have come to rest; a white-light warning does not wait."""
        return order.start_ns + (0 if order.kind == "focus" else self._timing.rest_wait_ms * _MS)

    def _begin(self, order: Order, now_ns: int) -> None:
        """Light, at rest and not too late; else give the order up."""
        rest_ns = self._foot.rest_ns()
        at_rest = rest_ns is not None and rest_ns <= min(now_ns, self._rest_by(order))
        if not at_rest or now_ns > order.start_ns + self._timing.rest_wait_ms * _MS:
            self._drop_order("fault" if at_rest else "rest", now_ns)  # a fault: this process itself has slept
            return
        self._on_ns = now_ns
        self._end_ns = now_ns + order.lit_ms * _MS
        self._lease_ns = now_ns + self._timing.lease_ms * _MS if order.kind == "focus" else self._end_ns
        self._beats = deque(
            sorted((now_ns + beat.at_ms * _MS, Cue(beat.cue)) for beat in order.cues if beat.at_ms >= 0)
        )
        # on the slate before it is lit: who dies in between has claimed too much light, not too little
        self._record.note(replace(self._record.page, lit=True, on_ns=now_ns), now_ns)
        self._lines.lamps[order.lamp].set(True)
        self._say(Lit(order.id, now_ns), now_ns)

    def _run_out(self, order: Order, now_ns: int) -> None:
        by_plan = "limit" if order.kind == "focus" else "complete"
        self._drop_order("lease" if self._lease_ns < self._end_ns else by_plan, now_ns)

    # ---- the ends of an order

    def _stop(self, why: str, now_ns: int) -> None:
        self._drop_order(why, now_ns)
        self._seq += 1
        self._say(wire.Stopped(self._seq, now_ns, why), now_ns)

    def _drop_order(self, why: str, now_ns: int) -> None:
        """Dark, where it is lit; pending no more, where it is pending; nothing, where there is none."""
        order, on_ns = self._order, self._on_ns
        if order is None:
            return
        if on_ns is not None:
            self._lines.dark()
        self._order = self._on_ns = None
        self._beats.clear()
        if on_ns is None:
            self._say(wire.Cancelled(order.id, why, now_ns), now_ns)
            return
        self._last_lamp, self._last_dark_ns = order.lamp, now_ns
        self._record.note(replace(self._record.page, lit=False, dark_ns=now_ns, why=why), now_ns)
        self._say(Dark(order.id, on_ns, now_ns, why), now_ns)
        if order.kind == "focus":
            self._sound(Cue.DARK, 0, now_ns)
        elif order.kind == "step":
            self._sound(Cue.DONE if why == "complete" else Cue.STOPPED, 0, now_ns)

    def end(self, why: str, now_ns: int) -> None:
        """Dark (`why` of `wire.Dark`), note it, and let lines and slate go. Ending twice does nothing."""
        if self._ended:
            return
        self._ended = True
        try:
            self._drop_order(why if self.lit else "fault", now_ns)
        finally:
            try:
                self._lines.close()
            finally:
                self._record.close()

    # ---- speaking

    def _sound(self, cue: Cue, count: int, now_ns: int) -> None:
        if self._sounder is None:
            return
        try:
            self._sounder.play(notes(cue, count))
        except (HardwareError, OSError):
            self._sounder = None
            if self._order is not None and self._order.kind == "focus":
                self._drop_order("fault", now_ns)
            self._say(wire.Trouble(What.SOUNDER, now_ns), now_ns)
            return
        self._say(wire.Sounded(cue, count, now_ns), now_ns)

    def _say(self, message: FromKeeper, now_ns: int) -> None:
        """Send; with nobody to hear it, dark."""
        if not self._record.say(message, now_ns):
            self._drop_order("tether" if self.lit else "fault", now_ns)
