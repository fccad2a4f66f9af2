"""Pairing codes: eight digits, ten minutes, one use, five tries a minute for all devices together."""

from __future__ import annotations

import threading

import pytest

from controller.daemon.pairing import CODE_NS, TRIES_NS, Pairing
from controller.errors import WrongMoment


class Clock:
    def __init__(self) -> None:
        self.now = 10**12

    def __call__(self) -> int:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def pairing(clock: Clock) -> Pairing:
    return Pairing(clock)


def other(code: str) -> str:
    return f"{(int(code) + 1) % 10**8:08d}"


def test_a_code_has_eight_digits(pairing: Pairing) -> None:
    """A code is eight digits, leading noughts included, and not always the same."""
    codes = {pairing.new_code() for _ in range(50)}
    assert all(len(code) == 8 and code.isdigit() for code in codes)
    assert len(codes) > 45


def test_a_code_lets_one_device_in(pairing: Pairing) -> None:
    """The right code names a new device, once."""
    code = pairing.new_code()
    name = pairing.try_code(code)
    assert name
    assert pairing.try_code(code) is None
    assert pairing.try_code("") is None
    assert pairing.try_code(pairing.new_code()) not in {name, None}


def test_a_wrong_code_lets_nobody_in_and_spoils_nothing(pairing: Pairing) -> None:
    """A wrong code is refused; the right one still fits afterwards."""
    code = pairing.new_code()
    assert pairing.try_code(other(code)) is None
    assert pairing.try_code(code) is not None


def test_a_code_ends_after_ten_minutes(pairing: Pairing, clock: Clock) -> None:
    """A code is good for ten minutes, and not a moment longer."""
    code = pairing.new_code()
    clock.now += CODE_NS - 1
    assert pairing.try_code(other(code)) is None
    clock.now += 1
    assert pairing.try_code(code) is None


def test_a_code_at_the_end_of_its_time_still_fits(pairing: Pairing, clock: Clock) -> None:
    """In the last moment of the ten minutes the code still lets in."""
    code = pairing.new_code()
    clock.now += CODE_NS - 1
    assert pairing.try_code(code) is not None


def test_a_new_code_voids_the_one_before(pairing: Pairing) -> None:
    """There is one code at a time."""
    old = pairing.new_code()
    new = pairing.new_code()
    assert old == new or pairing.try_code(old) is None
    assert pairing.try_code(new) is not None


@pytest.mark.parametrize("code", ["", "0", "00000000", "１２３４５６７８", "é" * 8, "1234 5678"])
def test_nothing_fits_where_there_is_no_code(pairing: Pairing, code: str) -> None:
    """Before any code was made, and after it was used, nothing fits; odd text is only a wrong code."""
    assert pairing.try_code(code) is None


def test_five_tries_a_minute_for_everybody(pairing: Pairing, clock: Clock) -> None:
    """A sixth try within a minute is refused with a sentence, the right code included; later it fits."""
    code = pairing.new_code()
    for _ in range(5):
        assert pairing.try_code(other(code)) is None
        clock.now += 1_000_000
    with pytest.raises(WrongMoment, match="minute"):
        pairing.try_code(code)
    clock.now += TRIES_NS
    assert pairing.try_code(code) is not None


def test_a_refused_try_is_no_try(pairing: Pairing, clock: Clock) -> None:
    """Whoever is refused for trying too often does not lengthen the waiting, however often that is."""
    code = pairing.new_code()
    for _ in range(5):
        pairing.try_code(other(code))
    clock.now += TRIES_NS - 1
    for _ in range(6):
        with pytest.raises(WrongMoment):
            pairing.try_code(code)
    clock.now += 1
    assert pairing.try_code(code) is not None


def test_neither_a_new_code_nor_a_right_one_gives_more_tries(pairing: Pairing) -> None:
    """Five tries a minute are five, whoever is let in meanwhile and however many codes are made."""
    for _ in range(2):
        assert pairing.try_code(other(pairing.new_code())) is None
        assert pairing.try_code(pairing.new_code()) is not None
    pairing.try_code("")
    with pytest.raises(WrongMoment):
        pairing.try_code(pairing.new_code())


def test_codes_and_tries_last_as_long_as_is_said(pairing: Pairing, clock: Clock) -> None:
    """A code is good for ten minutes by the clock, and five tries are counted over one."""
    assert (CODE_NS, TRIES_NS) == (10 * 60 * 10**9, 60 * 10**9)


def test_two_devices_at_once_cannot_share_a_code(pairing: Pairing) -> None:
    """Of several devices that try the right code at the same time one is let in."""
    code = pairing.new_code()
    names: list[str | None] = []
    start = threading.Barrier(5, timeout=20)

    def knock() -> None:
        start.wait()
        names.append(pairing.try_code(code))

    devices = [threading.Thread(target=knock) for _ in range(5)]
    for device in devices:
        device.start()
    for device in devices:
        device.join(20)
    assert sum(name is not None for name in names) == 1
