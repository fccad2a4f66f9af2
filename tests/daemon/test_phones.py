"""The list of paired phones: who is on it, who was put out, and how seldom it is written."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from controller.daemon import phones as module
from controller.daemon.phones import FILE, LISTED_AT_MOST, FogTest, Phones
from controller.errors import Impossible, NotThere, StoreTrouble


class Days:
    def __init__(self) -> None:
        self.now = "2026-03-01"

    def __call__(self) -> str:
        return self.now


@pytest.fixture
def days() -> Days:
    return Days()


@pytest.fixture
def phones(tmp_path: Path, days: Days) -> Iterator[Phones]:
    made = Phones(tmp_path, days)
    assert made.open()
    yield made
    made.close()


def again(folder: Path) -> Phones:
    """Return the list as the next start of the daemon reads it."""
    made = Phones(folder)
    assert made.open()
    return made


def test_a_phone_is_listed_by_name_and_day(phones: Phones, days: Days) -> None:
    """A phone that is paired gets a name of its own, and the days on which it was paired and last seen."""
    first, second = phones.add(), phones.add()
    days.now = "2026-03-04"
    phones.seen(first.mark)
    assert [line.words() for line in phones.list_lines().phones] == [
        "phone 1: paired on 2026-03-01, last seen on 2026-03-04",
        "phone 2: paired on 2026-03-01, last seen on 2026-03-01",
    ]
    assert first.mark != second.mark
    assert len(first.mark) == 32


def test_a_phone_that_was_put_out_counts_no_longer(phones: Phones, tmp_path: Path) -> None:
    """It is out at once, it stays out over a restart and however often it is seen; the others stay in."""
    kept, lost = phones.add(), phones.add()
    phones.put_out(lost.name)
    assert phones.is_out(lost.mark)
    phones.seen(lost.mark)
    later = again(tmp_path)
    for each in (phones, later):
        assert (each.is_out(lost.mark), each.is_out(kept.mark)) == (True, False)
        assert [phone.name for phone in each.listed()] == [kept.name]


def test_a_phone_from_before_the_list_counts(phones: Phones, days: Days) -> None:
    """A mark that is not on the list is not out; it comes on the list when it is seen, and can be put out like any."""
    assert not phones.is_out("old")
    phones.seen("old")
    assert [line.words() for line in phones.list_lines().phones] == [
        "phone 1: paired before there was a list, last seen on 2026-03-01"
    ]
    phones.put_out("phone 1")
    assert phones.is_out("old")


def test_no_name_is_given_twice(phones: Phones, tmp_path: Path) -> None:
    """The name of a phone that was put out is never another's, after a restart neither."""
    phones.put_out(phones.add().name)
    assert phones.add().name == "phone 2"
    phones.close()
    later = again(tmp_path)
    assert later.add().name == "phone 3"
    later.close()


def test_what_is_not_on_the_list_cannot_be_put_out(phones: Phones) -> None:
    """A name that nobody has is told, with where the names stand; nobody is put out."""
    phone = phones.add()
    with pytest.raises(NotThere, match="treadle phones"):
        phones.put_out("phone 7")
    assert not phones.is_out(phone.mark)


def test_a_phone_is_written_once_a_day(phones: Phones, days: Days, monkeypatch: pytest.MonkeyPatch) -> None:
    """However often a phone is seen, the file is written once a day of it at most."""
    written: list[bytes] = []
    write = module.write_whole
    monkeypatch.setattr(module, "write_whole", lambda *a, **k: (written.append(a[1]), write(*a, **k)))
    phone = phones.add()
    for day in ("2026-03-01", "2026-03-02", "2026-03-03"):
        days.now = day
        for _ in range(500):
            phones.seen(phone.mark)
        phones.close()
    assert len(written) == 3


def test_the_list_is_bounded(phones: Phones, days: Days, tmp_path: Path) -> None:
    """Of more phones than are listed the one not seen for longest is pushed off, counts on, and comes on it again."""
    first = phones.add()
    for number in range(LISTED_AT_MOST):
        days.now = f"2026-04-{number // 10 + 1:02d}"
        phones.add()
    assert len(phones.listed()) == LISTED_AT_MOST
    assert first.mark not in {phone.mark for phone in phones.listed()}
    assert not phones.is_out(first.mark)
    phones.seen(first.mark)
    assert phones.listed()[0].mark == first.mark or first.mark in {phone.mark for phone in phones.listed()}
    phones.close()
    assert (tmp_path / FILE).stat().st_size < 12_000


def test_who_was_put_out_is_bounded(phones: Phones, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no more can be remembered as out, it is said how every phone can be put out; nobody comes back in."""
    monkeypatch.setattr(module, "OUT_AT_MOST", 1)
    out, kept = phones.add(), phones.add()
    phones.put_out(out.name)
    with pytest.raises(Impossible, match=r"secret\.key"):
        phones.put_out(kept.name)
    assert phones.is_out(out.mark)


def test_the_file_is_for_the_owner_alone(phones: Phones, tmp_path: Path) -> None:
    """Nobody else may read who is paired."""
    phones.put_out(phones.add().name)
    assert (tmp_path / FILE).stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("damage", [b"", b"{", b"[]", b"\xff\xfe", b'{"format": "treadle/phones/9"}'])
def test_a_damaged_list_lets_nobody_back_in(tmp_path: Path, damage: bytes) -> None:
    """A file that is no list is told of and set aside, for nobody knows any more who was put out."""
    (tmp_path / FILE).write_bytes(damage)
    made = Phones(tmp_path)
    assert not made.open()
    assert (tmp_path / "phones.damaged").read_bytes() == damage
    assert made.open()


def test_a_full_card_keeps_nobody_waiting(
    phones: Phones, days: Days, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where nothing can be written a phone is paired all the same, and one is out all the same, which is told."""

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    write = module.write_whole
    monkeypatch.setattr(module, "write_whole", full)
    phone = phones.add()
    with pytest.raises(StoreTrouble, match="No space left"):
        phones.put_out(phone.name)
    assert phones.is_out(phone.mark)
    monkeypatch.setattr(module, "write_whole", write)
    phones.close()
    assert again(tmp_path).is_out(phone.mark)


def test_stop_waits_for_no_card(phones: Phones, monkeypatch: pytest.MonkeyPatch) -> None:
    """While the card takes its time, whether a phone is out is answered, and being seen waits for nothing."""
    slow, go = threading.Event(), threading.Event()
    write = module.write_whole

    def slowly(*a: object, **k: object) -> None:
        slow.set()
        assert go.wait(20)
        write(*a, **k)  # type: ignore[arg-type]

    monkeypatch.setattr(module, "write_whole", slowly)
    lost = phones.add()
    assert slow.wait(20)
    putting = threading.Thread(target=phones.put_out, args=(lost.name,))
    putting.start()
    try:
        while not phones.is_out(lost.mark):
            assert putting.is_alive()
        phones.seen("another")
    finally:
        go.set()
        putting.join(20)


def test_the_file_is_as_it_is_described(phones: Phones, tmp_path: Path) -> None:
    """The list lies in a plain file with its form's name."""
    phones.put_out(phones.add().name)
    body = json.loads((tmp_path / FILE).read_text())
    assert (body["format"], body["named"], body["phones"], len(body["out"])) == ("treadle/phones/1", 1, [], 1)


def test_what_a_phone_was_tested_for_is_kept_with_it(phones: Phones, tmp_path: Path) -> None:
    """The last fog test counts, by phone, over a restart and being seen; one that was never tested has none."""
    tested, other = phones.add(), phones.add()
    phones.tested(tested.mark, FogTest(level=3, paper="paper one", day=date(2026, 3, 1)))
    found = FogTest(level=2, paper="paper two", day=date(2026, 3, 2))
    phones.tested(tested.mark, found)
    phones.seen(tested.mark)
    phones.close()
    reread = again(tmp_path)
    assert reread.fog_test(tested.mark) == found
    assert reread.fog_test(other.mark) is None
    assert reread.fog_test("never seen") is None
    reread.close()


def test_a_test_of_a_phone_that_is_not_on_the_list_puts_it_there(phones: Phones) -> None:
    """A phone that others have pushed off the list counts all the same, and so does what it was tested for."""
    found = FogTest(level=1, paper="paper one", day=date(2026, 3, 1))
    phones.tested("pushed off", found)
    assert phones.fog_test("pushed off") == found
