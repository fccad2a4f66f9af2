"""Why an order, or the room light, brings no light: what the keeper refuses, each with its reason. Pure."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from hardware.clock import NS_PER_MS
from hardware.timing import Timing
from hardware.wire import LONGEST_DOSE, Order, Reason

_KINDS: Final = frozenset({"step", "focus", "check"})
BETWEEN_LAMPS_NS: Final = 50 * NS_PER_MS


@dataclass(frozen=True, slots=True)
class Present:
    """How things stand at the keeper."""

    now_ns: int
    lamps: Collection[str]
    fault: bool
    """The foot switch is stuck, or a wire of it is broken."""
    foot_seq: int
    held_ns: int
    """Up to here, a light that comes on was begun by a press that was none."""
    first_contact_ns: int | None
    rest_ns: int | None
    """From when on the contact is at rest; None while it is not open."""
    busy: bool
    """Another order stands, or is lit."""
    last_lamp: str
    last_dark_ns: int
    lid_open: bool
    steps_with_lid_open: bool
    sounder: bool
    room_light_on: bool
    """The room light is on."""


def may_stand_open(order: Order, *, steps_with_lid_open: bool) -> bool:
    """Return whether a pending order may stand while the lid is open."""
    return order.kind == "step" and steps_with_lid_open


def rest_by(order: Order, timing: Timing) -> int:
    """Return by when the contact must have come to rest; a white-light warning does not wait."""
    return order.start_ns + (0 if order.kind == "focus" else timing.rest_wait_ms * NS_PER_MS)


def dose_may_be_asked(order: Order) -> bool:
    """Return whether a dose that an order asks for, if any, is one of a step, and at most a third of a stop longer."""
    if not order.longest_ms:
        return True
    return order.kind == "step" and order.lit_ms <= order.longest_ms <= order.lit_ms * LONGEST_DOSE


def refusal(order: Order, present: Present, timing: Timing, *, seen: bool) -> str | None:
    """Return the first reason why this order brings no light, or None; `seen`: it has come before."""
    now_ns, start_ns, focus = present.now_ns, order.start_ns, order.kind == "focus"
    first_ns, rest_ns = present.first_contact_ns, present.rest_ns
    soonest_rest_ns = now_ns + timing.up_open_ms * NS_PER_MS if rest_ns is None else rest_ns
    refusals = (
        (seen, Reason.SEEN),
        (present.fault, Reason.FAULT),
        # one that is ahead was meant for another keeper
        (order.foot_seq != present.foot_seq or (start_ns <= present.held_ns and not focus), Reason.FOOT),
        (present.busy, Reason.BUSY),
        (order.kind not in _KINDS, Reason.KIND),
        (order.lamp not in present.lamps, Reason.LAMP),
        (order.lit_ms < 1, Reason.SHORT),
        (not dose_may_be_asked(order), Reason.LONG),
        (order.most_ms > (timing.focus_limit_ms if focus else timing.longest_light_ms), Reason.LONG),
        (start_ns < now_ns, Reason.PAST),
        (start_ns > now_ns + timing.farthest_start_ms * NS_PER_MS, Reason.FAR),
        (first_ns is not None and start_ns < first_ns + timing.after_contact_ms * NS_PER_MS, Reason.CONTACT),
        (soonest_rest_ns > rest_by(order, timing), Reason.NOT_AT_REST),
        (order.lamp != present.last_lamp and start_ns < present.last_dark_ns + BETWEEN_LAMPS_NS, Reason.BUSY),
        (
            present.lid_open and not may_stand_open(order, steps_with_lid_open=present.steps_with_lid_open),
            Reason.LID,
        ),
        (focus and not present.sounder, Reason.SILENT),
        (present.room_light_on, Reason.ROOM),
    )
    return next((reason for wrong, reason in refusals if wrong), None)


def room_light_refusal(present: Present, timing: Timing) -> str:
    """Return why the room light must not be on, in the words of `wire.RoomSwitched`, or nothing."""
    now_ns, first_ns, rest_ns = present.now_ns, present.first_contact_ns, present.rest_ns
    early = first_ns is not None and now_ns < first_ns + timing.after_contact_ms * NS_PER_MS
    refusals = (
        (present.lid_open, "lid"),
        (present.busy, "order"),
        (present.fault, "fault"),
        (early or rest_ns is None or rest_ns > now_ns, "foot"),
    )
    return next((why for wrong, why in refusals if wrong), "")
