"""USB pedals: what their keys mean, and how they come and go without anybody waiting for them."""

from __future__ import annotations

import errno
import logging
import os
import select
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tools.pedal_double import DROPPED, EVENT, KEY, REPORT, SYN, Port

from hardware.errors import LineError
from hardware.keeper.debounce import Debounce, Down
from hardware.lines import pedals as module
from hardware.lines import usb_pedal
from hardware.lines.pedals import Pedals, open_pedals
from hardware.timing import Timing

pytestmark = pytest.mark.usefixtures("by_real_time")

LEFT, RIGHT = "/dev/input/by-id/usb-left-event-kbd", "/dev/input/by-id/usb-right-event-kbd"
SPACE, ENTER = 57, 28
MS = 1_000_000


@pytest.fixture
def port(_nothing_left_behind: None) -> Iterator[Port]:
    opened = Port()
    yield opened
    opened.close()


@pytest.fixture(autouse=True)
def stamps(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, bytes]]:
    """Grant a pipe the clock that only an input device can be given; return what was asked for."""
    asked: list[tuple[int, bytes]] = []

    def ioctl(fd: int, request: int, argument: bytes) -> int:
        asked.append((request, argument))
        return 0

    monkeypatch.setattr(usb_pedal.fcntl, "ioctl", ioctl)
    return asked


@pytest.fixture
def fit(port: Port) -> Iterator[Callable[..., Pedals]]:
    fitted: list[Pedals] = []

    def make(*paths: str) -> Pedals:
        fitted.append(Pedals(paths, port.open, again_seconds=0.05))
        return fitted[-1]

    yield make
    for pedals in fitted:
        pedals.close()


def rings(pedals: Pedals, seconds: float = 0.0) -> bool:
    fd = pedals.fileno()
    assert fd is not None
    return bool(select.select([fd], [], [], seconds)[0])


def levels(pedals: Pedals) -> list[bool]:
    return [closed for _, closed in pedals.edges()]


# ---- what keys mean


def test_a_press_is_closed_with_the_kernels_own_moment(port: Port, fit: Callable[..., Pedals]) -> None:
    """A key down closes the contact and its release opens it, each at the moment that the kernel stamped."""
    pedal = port.plug_in(LEFT)
    contact = fit(LEFT)
    assert not rings(contact)
    began = time.monotonic_ns()
    down = pedal.key(SPACE, 1, began - 40 * MS)
    up = pedal.key(SPACE, 0, began - 5 * MS)
    assert rings(contact)
    assert contact.edges() == [(down, True), (up, False)]
    assert not rings(contact)
    assert not contact.closed()


def test_moments_are_of_the_monotonic_clock(
    port: Port, fit: Callable[..., Pedals], stamps: list[tuple[int, bytes]]
) -> None:
    """Each device is asked to stamp by the monotonic clock: EVIOCSCLOCKID with CLOCK_MONOTONIC, which is 1."""
    port.plug_in(LEFT)
    fit(LEFT)
    assert stamps == [(0x400445A0, (1).to_bytes(4, sys.byteorder))]


def test_without_the_monotonic_clock_the_moment_of_hearing_counts(
    port: Port, fit: Callable[..., Pedals], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kernel that stamps by another clock is not believed: the moment at which it was heard counts."""

    def refuse(*_: object) -> int:
        raise OSError(errno.ENOTTY, "no")

    monkeypatch.setattr(usb_pedal.fcntl, "ioctl", refuse)
    pedal = port.plug_in(LEFT)
    contact = fit(LEFT)
    before = time.monotonic_ns()
    pedal.key(SPACE, 1, 1_700_000_000 * 1_000_000_000)
    ((at_ns, closed),) = contact.edges()
    assert closed
    assert before <= at_ns <= time.monotonic_ns()


def test_a_keys_repeat_says_nothing(port: Port, fit: Callable[..., Pedals]) -> None:
    """Value 2, which a held key sends again and again, is neither a press nor a release."""
    pedal = port.plug_in(LEFT)
    contact = fit(LEFT)
    pedal.key(SPACE, 1)
    for _ in range(30):
        pedal.key(SPACE, 2)
    pedal.key(SPACE, 0)
    assert levels(contact) == [True, False]


def test_any_key_of_the_device_counts(port: Port, fit: Callable[..., Pedals]) -> None:
    """A pedal of two keys is closed from the first that goes down to the last that comes up."""
    pedal = port.plug_in(LEFT)
    contact = fit(LEFT)
    pedal.key(SPACE, 1)
    pedal.key(ENTER, 1)
    pedal.key(SPACE, 0)
    assert levels(contact) == [True]
    assert contact.closed()
    pedal.key(ENTER, 0)
    assert levels(contact) == [False]


def test_two_pedals_are_one_contact(port: Port, fit: Callable[..., Pedals]) -> None:
    """The contact is closed while either pedal is; their events are put in the order of their moments."""
    left, right = port.plug_in(LEFT), port.plug_in(RIGHT)
    contact = fit(LEFT, RIGHT)
    base = time.monotonic_ns() - 100 * MS
    right.key(SPACE, 1, base + 2 * MS)
    right.key(SPACE, 0, base + 40 * MS)
    left.key(SPACE, 1, base + 1 * MS)
    left.key(SPACE, 0, base + 3 * MS)
    assert [((at - base // 1000 * 1000) // MS, closed) for at, closed in contact.edges()] == [(1, True), (40, False)]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    moves=st.lists(
        st.tuples(st.sampled_from([LEFT, RIGHT]), st.sampled_from([SPACE, ENTER]), st.integers(0, 2)), max_size=40
    )
)
def test_the_contact_is_closed_while_any_key_is_down(moves: list[tuple[str, int, int]]) -> None:
    """Whatever is pressed, repeated and let go, edges alternate, never go back in time, and end at the keys' level."""
    port = Port()
    plugged = {path: port.plug_in(path) for path in (LEFT, RIGHT)}
    contact = Pedals([LEFT, RIGHT], port.open)
    try:
        down: set[tuple[str, int]] = set()
        edges: list[tuple[int, bool]] = []
        for number, (path, key, value) in enumerate(moves):
            if value == 2 and (path, key) not in down:
                continue
            (down.add if value else down.discard)((path, key))
            plugged[path].key(key, value)
            if number % 3 == 0:
                edges += contact.edges()
                assert contact.closed() == bool(down)
        edges += contact.edges()
        assert [closed for _, closed in edges] == [i % 2 == 0 for i in range(len(edges))]
        assert [at for at, _ in edges] == sorted(at for at, _ in edges)
        assert contact.closed() == bool(down)
    finally:
        contact.close()
        port.close()


def test_a_press_is_one_foot_down(port: Port, fit: Callable[..., Pedals]) -> None:
    """Through the keeper's own debouncing, a held pedal with its repeats is exactly one foot-down."""
    pedal = port.plug_in(LEFT)
    contact = fit(LEFT)
    start = time.monotonic_ns() - 2_000 * MS
    ear = Debounce(Timing(), at_ns=start - 500 * MS)
    pedal.key(SPACE, 1, start)
    for ms in range(250, 1000, 33):
        pedal.key(SPACE, 2, start + ms * MS)
    pedal.key(SPACE, 0, start + 1000 * MS)
    for at_ns, closed in contact.edges():
        ear.edge(at_ns, closed)
    downs = [known for known in ear.advance(start + 1900 * MS) if isinstance(known, Down)]
    assert [known.first_ns for known in downs] == [start // 1000 * 1000]


def test_lost_events_are_made_up_for(port: Port, fit: Callable[..., Pedals]) -> None:
    """Where the kernel says that events were lost, what comes before the next report is passed over, then asked for."""
    pedal = port.plug_in(LEFT)
    contact = fit(LEFT)
    pedal.key(SPACE, 1)
    assert levels(contact) == [True]
    pedal.keys = {ENTER}
    pedal.say(SYN, DROPPED, 0)
    pedal.say(KEY, SPACE, 0)
    pedal.say(SYN, REPORT, 0)
    assert levels(contact) == []
    assert contact.closed()
    pedal.keys = set()
    pedal.say(SYN, DROPPED, 0)
    pedal.say(SYN, REPORT, 0)
    assert levels(contact) == [False]


def test_a_pedal_held_at_the_start_is_closed(port: Port, fit: Callable[..., Pedals]) -> None:
    """A pedal with a foot on it when it is first opened is closed, so that nothing starts before it was at rest."""
    pedal = port.plug_in(LEFT, {SPACE})
    contact = fit(LEFT)
    assert contact.closed()
    pedal.key(SPACE, 0)
    assert levels(contact) == [False]


# ---- coming and going


def test_a_missing_pedal_keeps_nobody_waiting(port: Port, fit: Callable[..., Pedals]) -> None:
    """A pedal that is not there is no error and takes no time; the other one works."""
    port.slow_seconds = 0.0
    pedal = port.plug_in(RIGHT)
    began = time.monotonic()
    contact = fit(LEFT, RIGHT)
    pedal.key(SPACE, 1)
    assert levels(contact) == [True]
    assert time.monotonic() - began < 0.5
    assert contact.missing == (LEFT,)


def test_unplugged_while_closed_is_open(
    port: Port, fit: Callable[..., Pedals], caplog: pytest.LogCaptureFixture
) -> None:
    """A pedal that is pulled out under a foot counts as open from then on, with a note that says so."""
    pedal = port.plug_in(LEFT)
    contact = fit(LEFT)
    pedal.key(SPACE, 1)
    assert levels(contact) == [True]
    before = time.monotonic_ns()
    with caplog.at_level(logging.WARNING):
        port.unplug(LEFT)
        assert rings(contact, 1)
        ((at_ns, closed),) = contact.edges()
    assert not closed
    assert before <= at_ns <= time.monotonic_ns()
    assert contact.missing == (LEFT,)
    assert LEFT in caplog.text
    assert "it was down, and counts as up" in caplog.text


def test_plugged_in_again_it_works_again(port: Port, fit: Callable[..., Pedals]) -> None:
    """A pedal that comes back is opened, grabbed and heard again, without the program having been started again."""
    port.plug_in(LEFT)
    contact = fit(LEFT)
    for _ in range(2):
        port.unplug(LEFT)
        assert levels(contact) == []
        assert contact.missing == (LEFT,)
        again = port.plug_in(LEFT)
        assert rings(contact, 2), "the pedal that came back did not ring"
        assert contact.edges() == []
        assert contact.missing == ()
        assert again.grabbed
        down = again.key(SPACE, 1)
        assert contact.edges() == [(down, True)]
        again.key(SPACE, 0)
        assert levels(contact) == [False]


def test_one_that_comes_back_pressed_is_no_press(port: Port, fit: Callable[..., Pedals]) -> None:
    """A pedal plugged in with something on a key starts nothing; its other keys count, and that one once let go."""
    contact = fit(LEFT)
    pedal = port.plug_in(LEFT, {SPACE})
    assert rings(contact, 2)
    assert contact.edges() == []
    pedal.key(SPACE, 2)
    assert contact.edges() == []
    assert not contact.closed()
    pedal.key(ENTER, 1)
    pedal.key(ENTER, 0)
    assert levels(contact) == [True, False]
    pedal.key(SPACE, 0)
    assert levels(contact) == []
    pedal.key(SPACE, 1)
    assert levels(contact) == [True]


def test_looking_for_a_pedal_never_keeps_the_loop(port: Port, fit: Callable[..., Pedals]) -> None:
    """While a slow device is being opened, reading the others takes no longer than ever."""
    pedal = port.plug_in(RIGHT)
    contact = fit(LEFT, RIGHT)
    port.slow_seconds = 0.3
    port.plug_in(LEFT)
    longest, until = 0.0, time.monotonic() + 0.5
    while time.monotonic() < until and contact.missing:
        pedal.key(SPACE, 1)
        began = time.monotonic()
        contact.edges()
        contact.closed()
        longest = max(longest, time.monotonic() - began)
        pedal.key(SPACE, 0)
        time.sleep(0.01)
    assert not contact.missing
    assert longest < 0.2


def test_looked_for_about_each_second(port: Port, fit: Callable[..., Pedals]) -> None:
    """A missing pedal is looked for at the given pace, not at every turn of the loop."""
    contact = fit(LEFT)
    until = time.monotonic() + 0.42
    while time.monotonic() < until:
        contact.edges()
        time.sleep(0.001)
    assert 3 <= port.opened.count(LEFT) <= 10
    assert module.AGAIN_SECONDS == 1.0


@pytest.mark.parametrize(
    ("number", "remedy"),
    [(errno.EACCES, "group input"), (errno.EBUSY, "another program has taken it"), (errno.ENOENT, "waiting for this")],
)
def test_why_a_pedal_cannot_be_had_is_said_once(
    port: Port, fit: Callable[..., Pedals], caplog: pytest.LogCaptureFixture, number: int, remedy: str
) -> None:
    """The reason stands in the log with its remedy, once, however often it is tried."""
    port.refusals[LEFT] = number
    with caplog.at_level(logging.WARNING):
        fit(LEFT)
        time.sleep(0.2)
    assert caplog.text.count(LEFT) == 1
    assert remedy in caplog.text


def test_one_that_another_program_holds_is_let_go(port: Port, fit: Callable[..., Pedals]) -> None:
    """A pedal that cannot be grabbed is not half taken: its presses would go to a console as well."""
    pedal = port.plug_in(LEFT)
    pedal.grabbed = True
    contact = fit(LEFT)
    pedal.say(KEY, SPACE, 1)
    assert contact.edges() == []
    assert contact.missing == (LEFT,)


def test_closing_is_quick_and_can_be_done_twice(port: Port, fit: Callable[..., Pedals]) -> None:
    """Closing lets the pedals go, ends the search at once, and does nothing the second time."""
    pedal = port.plug_in(LEFT)
    contact = fit(LEFT, RIGHT)
    began = time.monotonic()
    contact.close()
    contact.close()
    assert time.monotonic() - began < 0.5
    assert not pedal.grabbed
    assert contact.fileno() is None
    assert contact.edges() == []


def test_a_pedal_that_hangs_while_it_is_opened_holds_up_no_end(port: Port, monkeypatch: pytest.MonkeyPatch) -> None:
    """A device whose opening does not return keeps nobody from closing; one that opens after that is let go again."""
    monkeypatch.setattr(module, "_CLOSE_SECONDS", 0.05, raising=False)
    opening, go_on = threading.Event(), threading.Event()

    def slow(path: str) -> object:
        opening.set()
        assert go_on.wait(20)
        return port.open(path)

    left = port.plug_in(LEFT)
    contact = Pedals([RIGHT, LEFT], lambda path: port.open(path), again_seconds=0.01)
    contact.edges()
    right = port.plug_in(RIGHT)
    contact._open_device = slow
    assert opening.wait(5)
    closing = threading.Thread(target=contact.close)
    closing.start()
    closing.join(5)
    held_up = closing.is_alive()
    assert held_up or not left.grabbed
    go_on.set()
    closing.join(5)
    assert contact._seeker is None or contact._seeker.join(5) is None
    contact.close()
    assert not right.grabbed
    assert not held_up


# ---- the library


def test_without_the_library_the_remedy_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where evdev cannot be imported, one sentence says what to install."""
    monkeypatch.setitem(sys.modules, "evdev", None)
    with pytest.raises(LineError, match="python3-evdev"):
        open_pedals([LEFT])


def test_evdev_is_only_imported_where_a_pedal_is_wired() -> None:
    """The module of the pedals can be imported without the library."""
    text = Path(module.__file__).read_text() + Path(usb_pedal.__file__).read_text()
    assert [line for line in text.splitlines() if line.startswith(("import evdev", "from evdev"))] == []


def test_the_library_reads_what_the_double_says(port: Port) -> None:
    """`evdev` itself, at the end of a pedal's pipe, reads the same events as the tests' own double."""
    evdev = pytest.importorskip("evdev", reason="evdev is not installed here: it needs gcc and the kernel's headers")

    class OnPipe(evdev.InputDevice):  # type: ignore[misc]
        """An InputDevice without the questions that only a real device answers."""

        def __init__(self, fd: int) -> None:
            self.fd = fd

        def grab(self) -> None: ...

        def active_keys(self) -> list[int]:
            return []

        def close(self) -> None:
            os.close(self.fd)
            self.fd = -1

    pedal = port.plug_in(LEFT)
    contact = Pedals([LEFT], lambda _path: OnPipe(os.dup(pedal.out)))
    try:
        down, up = pedal.key(SPACE, 1), pedal.key(SPACE, 0)
        pedal.key(SPACE, 2)
        assert contact.edges() == [(down, True), (up, False)]
        assert evdev.ecodes.EV_KEY == KEY
        assert (evdev.ecodes.EV_SYN, evdev.ecodes.SYN_REPORT, evdev.ecodes.SYN_DROPPED) == (SYN, REPORT, DROPPED)
        assert EVENT.size == 24
    finally:
        contact.close()
