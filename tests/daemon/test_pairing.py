"""Pairing: a code of eight digits with counted tries, a secret that cannot be guessed; ten minutes, one use."""

from __future__ import annotations

import base64
import threading
from contextlib import nullcontext, suppress
from urllib.parse import quote

import pytest

from controller.daemon.pairing import CODE_NS, TRIES_NS, TRIES_OF_ALL, Pairing
from controller.errors import WrongMoment

HERE, THERE = "192.0.2.1", "192.0.2.2"


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
    """The right code lets a device in, once."""
    code = pairing.new_code()
    assert pairing.try_code(code, HERE)
    assert not pairing.try_code(code, HERE)
    assert not pairing.try_code("", HERE)
    assert pairing.try_code(pairing.new_code(), HERE)


def test_a_wrong_code_lets_nobody_in_and_spoils_nothing(pairing: Pairing) -> None:
    """A wrong code is refused; the right one still fits afterwards."""
    code = pairing.new_code()
    assert not pairing.try_code(other(code), HERE)
    assert pairing.try_code(code, HERE)


def test_a_code_ends_after_ten_minutes(pairing: Pairing, clock: Clock) -> None:
    """A code is good for ten minutes, and not a moment longer."""
    code = pairing.new_code()
    clock.now += CODE_NS - 1
    assert not pairing.try_code(other(code), HERE)
    clock.now += 1
    assert not pairing.try_code(code, HERE)


def test_a_code_at_the_end_of_its_time_still_fits(pairing: Pairing, clock: Clock) -> None:
    """In the last moment of the ten minutes the code still lets in."""
    code = pairing.new_code()
    clock.now += CODE_NS - 1
    assert pairing.try_code(code, HERE)


def test_a_new_code_voids_the_one_before(pairing: Pairing) -> None:
    """There is one code at a time."""
    old = pairing.new_code()
    new = pairing.new_code()
    assert old == new or not pairing.try_code(old, HERE)
    assert pairing.try_code(new, HERE)


@pytest.mark.parametrize("code", ["", "0", "00000000", "１２３４５６７８", "é" * 8, "1234 5678"])
def test_nothing_fits_where_there_is_no_code(pairing: Pairing, code: str) -> None:
    """Before any code was made, and after it was used, nothing fits; odd text is only a wrong code."""
    assert not pairing.try_code(code, HERE)


def test_five_tries_a_minute_from_one_address(pairing: Pairing, clock: Clock) -> None:
    """A sixth try within a minute is refused with a sentence, the right code included; later it fits."""
    code = pairing.new_code()
    for _ in range(5):
        assert not pairing.try_code(other(code), HERE)
        clock.now += 1_000_000
    with pytest.raises(WrongMoment, match="minute"):
        pairing.try_code(code, HERE)
    clock.now += TRIES_NS
    assert pairing.try_code(code, HERE)


def test_a_refused_try_is_no_try(pairing: Pairing, clock: Clock) -> None:
    """Whoever is refused for trying too often does not lengthen the waiting, however often that is."""
    code = pairing.new_code()
    for _ in range(5):
        pairing.try_code(other(code), HERE)
    clock.now += TRIES_NS - 1
    for _ in range(6):
        with pytest.raises(WrongMoment):
            pairing.try_code(code, HERE)
    clock.now += 1
    assert pairing.try_code(code, HERE)


def test_neither_a_new_code_nor_a_right_one_gives_more_tries(pairing: Pairing) -> None:
    """Five tries a minute from one address are five, whoever is let in meanwhile and however many codes are made."""
    for _ in range(2):
        assert not pairing.try_code(other(pairing.new_code()), HERE)
        assert pairing.try_code(pairing.new_code(), HERE)
    pairing.try_code("", HERE)
    with pytest.raises(WrongMoment):
        pairing.try_code(pairing.new_code(), HERE)


def test_codes_and_tries_last_as_long_as_is_said(pairing: Pairing, clock: Clock) -> None:
    """A code is good for ten minutes by the clock, and five tries are counted over one."""
    assert (CODE_NS, TRIES_NS) == (10 * 60 * 10**9, 60 * 10**9)


def test_two_devices_at_once_cannot_share_a_code(pairing: Pairing) -> None:
    """Of several devices that try the right code at the same time one is let in."""
    code = pairing.new_code()
    let_in: list[bool] = []
    start = threading.Barrier(5, timeout=20)

    def knock() -> None:
        start.wait()
        let_in.append(pairing.try_code(code, HERE))

    devices = [threading.Thread(target=knock) for _ in range(5)]
    for device in devices:
        device.start()
    for device in devices:
        device.join(20)
    assert sum(let_in) == 1


def test_a_strangers_tries_do_not_keep_the_owner_out(pairing: Pairing) -> None:
    """However often one address tries, the right code from another address is taken at once."""
    code = pairing.new_code()
    for number in range(200):
        with pytest.raises(WrongMoment) if number >= 5 else nullcontext():
            assert not pairing.try_code(other(code), THERE)
    assert pairing.try_code(code, HERE)


def test_tries_from_many_addresses_have_a_ceiling(pairing: Pairing, clock: Clock) -> None:
    """Sixty tries a minute are all that is taken from all addresses together; then it is said that somebody tries."""
    code = pairing.new_code()
    taken = 0
    for number in range(300):
        with suppress(WrongMoment):
            pairing.try_code(other(code), f"192.0.2.{number % 100}")
            taken += 1
    assert taken == TRIES_OF_ALL == 60
    with pytest.raises(WrongMoment, match="Somebody else keeps trying"):
        pairing.try_code(code, "198.51.100.1")
    clock.now += TRIES_NS
    assert pairing.try_code(code, "198.51.100.1")


def test_who_tried_too_often_himself_is_told_so(pairing: Pairing) -> None:
    """Where the owner's own tries are what stops him, nobody else is blamed."""
    for _ in range(5):
        pairing.try_code("0", HERE)
    with pytest.raises(WrongMoment, match="Too many tries"):
        pairing.try_code("0", HERE)


def test_the_pictures_secret_lets_in_past_every_count(pairing: Pairing) -> None:
    """With the ceiling reached and the address's own tries used up, the secret lets one phone in, once."""
    invitation = pairing.invite()
    for number in range(100):
        with suppress(WrongMoment):
            pairing.try_code(other(invitation.code), f"192.0.2.{number % 20}")
    with pytest.raises(WrongMoment):
        pairing.try_code(invitation.code, HERE)
    assert not pairing.try_secret("x")
    assert pairing.try_secret(invitation.secret)
    assert not pairing.try_secret(invitation.secret)


def test_code_and_secret_are_one_invitation(pairing: Pairing, clock: Clock) -> None:
    """Either is used up with the other, both end after ten minutes, and a new invitation voids both."""
    used = pairing.invite()
    assert pairing.try_code(used.code, HERE)
    assert not pairing.try_secret(used.secret)
    used = pairing.invite()
    assert pairing.try_secret(used.secret)
    assert not pairing.try_code(used.code, HERE)
    old = pairing.invite()
    pairing.invite()
    assert not pairing.try_secret(old.secret)
    late = pairing.invite()
    clock.now += CODE_NS
    assert not pairing.try_secret(late.secret)


@pytest.mark.parametrize("secret", ["", "0", "é", "\udc80"])
def test_no_secret_fits_where_there_is_none(pairing: Pairing, secret: str) -> None:
    """Before any invitation, and after it was used, no secret fits; odd text is only a wrong one."""
    assert not pairing.try_secret(secret)


def test_a_secret_cannot_be_guessed(pairing: Pairing) -> None:
    """A secret has 128 bits at least, is never the same, and can stand in an address as it is."""
    secrets = {pairing.invite().secret for _ in range(200)}
    assert len(secrets) == 200
    for secret in secrets:
        assert len(base64.urlsafe_b64decode(secret + "==")) * 8 >= 128
        assert quote(secret, safe="") == secret
    assert all(len({secret[place] for secret in secrets}) > 3 for place in range(21))
