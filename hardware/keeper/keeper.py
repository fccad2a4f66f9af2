"""The keeper: it alone lights the lamp, times it, darkens it, and listens to the foot.

This core knows no process, no pipe and no clock: every moment is passed in, so that it runs in virtual time.
`hardware.keeper.process` is the process around it.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, replace
from typing import Final

from hardware import wire
from hardware.clock import NS_PER_MS, soonest
from hardware.keeper.cues import Cues
from hardware.keeper.debounce import Down, Hold, Stuck, Up
from hardware.keeper.foot_switch import Broken, FootSwitch, Heard, Whole
from hardware.keeper.lid import LidContact
from hardware.keeper.order_rules import BETWEEN_LAMPS_NS, Present, may_stand_open, refusal, rest_by, room_light_refusal
from hardware.keeper.outlets import Outlets
from hardware.keeper.report import Reporter
from hardware.lines.lines import Lines
from hardware.slate import Page, Slate
from hardware.sounds import Cue
from hardware.timing import Timing
from hardware.wire import Dark, FromKeeper, Lit, Order, ToKeeper, What

_EXACT_NS: Final = 2 * NS_PER_MS
"""A sleep that ends this close to a light's moment would spoil it by coming back late."""
_IDS: Final = 20_000
"""So many are remembered, so that an order told twice brings no second light."""

_ENDS: Final = {"complete": Cue.DONE, "level": Cue.ALARM}
"""How the end of a step's light sounds; any other end is that of a light that was stopped."""


class Keeper:
    """The lamp, the foot and what may happen between them.

    Call `greet` once. Then, for ever: `poll` and `receive` whatever has come, `advance` to the present, wait until
    `due_ns`. A line is set before anything is said of it, and where a foot-down or a stop ends something, its `Dark`,
    `Cancelled` or `RoomSwitched` is sent before the `FootDown` or `Stopped`. An open lid ends focus light and keeps any
    other from coming on; a step that is lit goes on. Any press, stop or doubt ends the room light.
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
        safelight_dark_while_lit: bool = False,
    ) -> None:
        """Take the lines and drive them dark. `send` raises `BlockingIOError` where the pipe is full; that darkens."""
        lines.dark()
        self._lines, self._timing = lines, timing
        self._steps_with_lid_open = steps_with_lid_open
        self._foot = FootSwitch(lines.foot, lines.changeover, timing, now_ns)
        self._seq = self._held_ns = 0  # up to `_held_ns`, a light that comes on was begun by a press that was none
        self._order: Order | None = None
        self._on_ns: int | None = None  # since when it is lit
        self._end_ns, self._lease_ns, self._dosed = 0, 0, False  # `_dosed`: a word of this light's dose has come
        self._seen: dict[str, None] = {}
        self._last_lamp, self._last_dark_ns = "", now_ns - BETWEEN_LAMPS_NS
        self._cues, self._lid = Cues(lines.sounder), LidContact(lines.lid)
        self._outlets = Outlets(
            lines.outlets,
            timing.lease_ms * NS_PER_MS,
            self._say,
            safelight_dark_while_lit=safelight_dark_while_lit,
        )
        self._report = Reporter(send, slate, Page(boot, pid), now_ns)
        self._ended = False

    @property
    def lit(self) -> bool:
        """Whether a lamp line is lit."""
        return self._on_ns is not None

    def greet(self, now_ns: int, *, scheduling: str = "other", locked: bool = False) -> None:
        """Say who this is: `Greeting`, and `Lid` where one is fitted."""
        self._say(
            wire.Greeting(
                protocol=wire.PROTOCOL,
                pid=self._report.page.pid,
                boot=self._report.page.boot,
                at_ns=now_ns,
                practice=self._lines.practice,
                lamps=tuple(self._lines.lamps),
                features=self._lines.features,
                scheduling=scheduling,
                locked=locked,
                timing=json.dumps(asdict(self._timing)),
                at_rest=self._foot.at_rest(now_ns),
            ),
            now_ns,
        )
        if self._lid.fitted:
            self._say(wire.Lid(self._lid.open, now_ns), now_ns)
        self._outlets.greet(now_ns)

    # ---- what the daemon says

    def receive(self, message: ToKeeper | FromKeeper, now_ns: int) -> None:
        """Take a message of the daemon; one that only a keeper says counts as unreadable."""
        match message:
            case wire.Stop(why):
                self._stop(why if why in wire.STOP_WHYS else "fault", now_ns)
            case wire.Cancel(id_):
                if self._order is not None and not self.lit and self._order.id == id_:
                    self._drop_order("cancel", now_ns)
            case wire.Lease(id_):
                self.advance(now_ns)  # a lease that has run out is not renewed
                if self._order is not None and self.lit and self._order.id == id_ and self._order.kind == "focus":
                    self._lease_ns = now_ns + self._timing.lease_ms * NS_PER_MS
            case wire.Dose(id_, lit_ms):
                self.advance(now_ns)  # a light whose time is over is not made longer
                self._dose(id_, lit_ms)
            case Order():
                self.advance(now_ns)  # the foot first
                reason = refusal(message, self._present(now_ns), self._timing, seen=message.id in self._seen)
                self._seen[message.id] = None
                if len(self._seen) > _IDS:
                    del self._seen[next(iter(self._seen))]
                if reason is not None:
                    self._say(wire.Refused(message.id, reason, now_ns), now_ns)
                else:
                    self._accept(message, now_ns)
            case wire.RoomLight(on):
                self.advance(now_ns)
                self._outlets.ask_room_light(on, room_light_refusal(self._present(now_ns), self._timing), now_ns)
            case wire.SheetOpen(open_, dark):
                self._outlets.sheet(open_, now_ns, dark=dark)
            case wire.Sound(cue, count):
                self._sound(Cue(cue), count, now_ns)
            case _:
                self.unreadable(now_ns)

    def unreadable(self, now_ns: int) -> None:
        """Take note that a line was no message: dark, nothing pending, `Trouble` and `Stopped` (why "fault")."""
        self._end_light("fault", now_ns)
        self._say(wire.Trouble(What.UNREADABLE, now_ns), now_ns)
        self._stop("fault", now_ns)

    def _present(self, now_ns: int) -> Present:
        return Present(
            now_ns=now_ns,
            lamps=self._lines.lamps.keys(),
            fault=self._foot.in_fault,
            foot_seq=self._seq,
            held_ns=self._held_ns,
            first_contact_ns=self._foot.first_contact_ns,
            rest_ns=self._foot.rest_ns(),
            busy=self._order is not None,
            last_lamp=self._last_lamp,
            last_dark_ns=self._last_dark_ns,
            lid_open=self._lid.open,
            steps_with_lid_open=self._steps_with_lid_open,
            sounder=self._cues.works,
            room_light_on=self._outlets.room_light_on,
        )

    def _accept(self, order: Order, now_ns: int) -> None:
        self._order = order
        self._cues.lead_in(order, now_ns)
        page = replace(self._report.page, id=order.id, kind=order.kind, sheet=order.sheet, lit_ms=order.lit_ms)
        self._report.note(replace(page, longest_ms=order.most_ms, on_ns=0, dark_ns=0, why=""), now_ns)
        self._say(wire.Accepted(order.id), now_ns)

    def _dose(self, id_: str, lit_ms: int) -> None:
        """Let the light end by its dose: the first word may put it off to the order's longest, later ones never."""
        order = self._order
        if order is not None and order.id == id_ and order.longest_ms and self._on_ns is not None:
            most_ns = self._end_ns if self._dosed else self._on_ns + order.longest_ms * NS_PER_MS
            self._end_ns = self._lease_ns = min(self._on_ns + max(0, lit_ms) * NS_PER_MS, most_ns)
            self._dosed = True

    # ---- what the foot and the lid say

    def poll(self, now_ns: int) -> None:
        """Take the edges that wait at the foot and the lid, and their levels as the second path."""
        self._foot.poll(now_ns)
        if self._lid.poll(now_ns):
            self._opened(now_ns)

    def _heard(self, heard: Heard, now_ns: int) -> None:
        match heard:
            case Down(first_ns):
                self._seq += 1
                lit = self._order.id if self._order is not None and self.lit else ""
                self._end_light("foot", now_ns)
                self._say(wire.FootDown(self._seq, first_ns, now_ns, lit), now_ns)
            case Up(opened_ns) | Whole(opened_ns):
                self._say(wire.FootUp(self._seq, opened_ns, now_ns), now_ns)
            case Hold(first_ns):
                self._held_ns = first_ns + self._timing.announced_ms(sounder=self._cues.works) * NS_PER_MS
                self._end_light("foot", now_ns)
                self._say(wire.FootHold(self._seq, first_ns, now_ns), now_ns)
            case Stuck() | Broken():
                self._end_light("fault", now_ns)
                if isinstance(heard, Broken):
                    self._say(wire.Trouble(What.FOOT_WIRE, now_ns), now_ns)
                self._say(wire.FootStuck(self._seq, now_ns), now_ns)

    def _opened(self, now_ns: int) -> None:
        order = self._order
        if order is not None:
            stays = self.lit or may_stand_open(order, steps_with_lid_open=self._steps_with_lid_open)
            if order.kind == "focus" or not stays:
                self._drop_order("lid", now_ns)
        self._outlets.end_room_light("lid", now_ns)
        self._say(wire.Lid(True, now_ns), now_ns)

    # ---- what time brings

    def advance(self, now_ns: int) -> None:
        """Do everything that is due: the foot first, since it only ever takes light away."""
        for heard in self._foot.advance(now_ns):
            known_ns = now_ns if isinstance(heard, Broken | Whole) else heard.at_ns
            if self._order is not None and self.lit and min(self._end_ns, self._lease_ns) <= known_ns:
                self._run_out(self._order, now_ns)
            self._heard(heard, now_ns)
        if self._lid.advance(now_ns):
            self._say(wire.Lid(False, now_ns), now_ns)
        light_ns = self._light_due()
        if self._order is not None and light_ns is not None and light_ns <= now_ns:
            if self.lit:
                self._run_out(self._order, now_ns)
            else:
                self._begin(self._order, now_ns)
        if not self._outlets.advance(now_ns):
            self._drop_order("fault", now_ns)
        while (cue := self._cues.next_due(now_ns)) is not None:
            self._sound(cue, 0, now_ns)
        self._report.advance(now_ns)

    def due_ns(self) -> int | None:
        """Return the next moment at which `advance` has something to do if nothing comes before."""
        parts = (self._foot, self._lid, self._cues, self._outlets, self._report)
        return soonest((self._light_due(), *[part.due_ns() for part in parts]))

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
        by_ns, rest_ns = rest_by(self._order, self._timing), self._foot.rest_ns()
        return by_ns if rest_ns is None or rest_ns > by_ns else max(self._order.start_ns, rest_ns)

    def _begin(self, order: Order, now_ns: int) -> None:
        """Light, at rest and not too late; else give the order up."""
        rest_ns = self._foot.rest_ns()
        at_rest = rest_ns is not None and rest_ns <= min(now_ns, rest_by(order, self._timing))
        if not at_rest or now_ns > order.start_ns + self._timing.rest_wait_ms * NS_PER_MS:
            self._drop_order("fault" if at_rest else "rest", now_ns)  # a fault: this process itself has slept
            return
        if not self._outlets.before_light(now_ns):
            self._drop_order("fault", now_ns)
            return
        self._on_ns = now_ns
        self._end_ns = now_ns + order.lit_ms * NS_PER_MS
        self._dosed = False
        self._lease_ns = now_ns + self._timing.lease_ms * NS_PER_MS if order.kind == "focus" else self._end_ns
        self._cues.light(order, now_ns)
        # on the slate before it is lit: who dies in between has claimed too much light, not too little
        self._report.note(replace(self._report.page, lit=True, on_ns=now_ns), now_ns)
        self._lines.lamps[order.lamp].set(True)
        self._outlets.light(step=order.kind == "step", now_ns=now_ns)
        self._say(Lit(order.id, now_ns), now_ns)

    def _run_out(self, order: Order, now_ns: int) -> None:
        by_plan = "limit" if order.kind == "focus" else "complete"
        self._drop_order("lease" if self._lease_ns < self._end_ns else by_plan, now_ns)

    # ---- the ends of an order

    def _stop(self, why: str, now_ns: int) -> None:
        self._end_light(why, now_ns)
        self._seq += 1
        self._say(wire.Stopped(self._seq, now_ns, why), now_ns)

    def _end_light(self, why: str, now_ns: int) -> None:
        """No light of any kind: no order, and no room light."""
        self._drop_order(why, now_ns)
        self._outlets.end_room_light(why, now_ns)

    def _drop_order(self, why: str, now_ns: int) -> None:
        """Dark, where it is lit; pending no more, where it is pending; nothing, where there is none."""
        order, on_ns = self._order, self._on_ns
        if order is None:
            return
        if on_ns is not None:
            self._lines.dark()
        self._order = self._on_ns = None
        self._cues.drop()
        if on_ns is None:
            self._say(wire.Cancelled(order.id, why, now_ns), now_ns)
            return
        self._last_lamp, self._last_dark_ns = order.lamp, now_ns
        self._report.note(replace(self._report.page, lit=False, dark_ns=now_ns, why=why), now_ns)
        self._outlets.dark(now_ns)
        self._say(Dark(order.id, on_ns, now_ns, why), now_ns)
        if order.kind == "focus":
            self._sound(Cue.DARK, 0, now_ns)
        elif order.kind == "step":
            self._sound(_ENDS.get(why, Cue.STOPPED), 0, now_ns)

    def end(self, why: str, now_ns: int) -> None:
        """Dark (`why` of `wire.Dark`), note it, and let lines and slate go. Ending twice does nothing."""
        if self._ended:
            return
        self._ended = True
        try:
            self._drop_order(why if self.lit else "fault", now_ns)
            self._outlets.end_room_light(why, now_ns)
        finally:
            try:
                self._lines.close()
            finally:
                self._report.close()

    # ---- speaking

    def _sound(self, cue: Cue, count: int, now_ns: int) -> None:
        match self._cues.sound(cue, count):
            case True:
                self._say(wire.Sounded(cue, count, now_ns), now_ns)
            case False:
                if self._order is not None and self._order.kind == "focus":
                    self._drop_order("fault", now_ns)
                self._say(wire.Trouble(What.SOUNDER, now_ns), now_ns)

    def _say(self, message: FromKeeper, now_ns: int) -> None:
        """Send; with nobody to hear it, dark."""
        if not self._report.say(message, now_ns):
            self._drop_order("tether" if self.lit else "fault", now_ns)
            self._outlets.end_room_light("tether", now_ns)
