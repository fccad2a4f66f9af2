"""The board of snapshots: numbers that rise with news only, and waits that end with it."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import pytest

from controller.daemon.answers import Snapshots
from controller.foot.status import Status
from hardware.wire import Sounded


def status(place: str = "ready", at_ns: int = 0, **more: object) -> Status:
    return Status.model_validate({"number": 0, "at_ns": at_ns, "place": place, **more})


def later(act: Callable[[], object]) -> threading.Thread:
    thread = threading.Thread(target=lambda: (time.sleep(0.05), act()))
    thread.start()
    return thread


def test_there_is_no_snapshot_before_the_first() -> None:
    """Asking before anything was hung up is an error, not an empty snapshot."""
    with pytest.raises(LookupError):
        Snapshots().latest()


def test_numbers_rise_from_one_and_only_with_news() -> None:
    """The number rises when something has changed; a later look at the same state is no news."""
    board = Snapshots()
    assert board.publish(status(at_ns=1)).number == 1
    assert board.publish(status(at_ns=2)).number == 1
    assert board.publish(status("lead-in", at_ns=3)).number == 2
    assert board.publish(status("ready", at_ns=4)).number == 3
    assert board.latest().place == "ready"


def test_a_wait_ends_with_the_news() -> None:
    """Whoever waits for news has it as soon as it is hung up."""
    board = Snapshots()
    board.publish(status())
    thread = later(lambda: board.publish(status("light")))
    begun = time.monotonic()
    assert board.wait(1, 5.0).place == "light"
    assert time.monotonic() - begun < 2
    thread.join()


def test_a_wait_without_news_ends_with_its_time_and_the_present_snapshot() -> None:
    """At the timeout the present snapshot is returned; one that is news already is returned at once."""
    board = Snapshots()
    board.publish(status())
    assert board.wait(1, 0.02).number == 1
    begun = time.monotonic()
    assert board.wait(0, 5.0).number == 1
    assert time.monotonic() - begun < 1


def test_cues_are_numbered_and_the_last_hundred_are_kept() -> None:
    """Cues have numbers of their own; who comes late hears the last hundred."""
    board = Snapshots()
    board.publish(status())
    for n in range(150):
        board.note_cue(Sounded("tick", 0, n))
    heard = board.cues(0)
    assert [cue.number for cue in heard] == list(range(51, 151))
    assert [cue.number for cue in board.cues(148)] == [149, 150]
    assert board.cues(150) == ()
    assert board.latest().number == 1, "a cue is no new snapshot"


def test_many_threads_read_what_one_hangs_up() -> None:
    """Every reader sees every rising number in order, and ends with the last."""
    board = Snapshots()
    board.publish(status(sheet="0"))
    seen: list[list[int]] = [[] for _ in range(8)]

    def read(mine: list[int]) -> None:
        number = 0
        while number < 200:
            number = board.wait(number, 5.0).number
            mine.append(number)

    readers = [threading.Thread(target=read, args=(mine,)) for mine in seen]
    for reader in readers:
        reader.start()
    for n in range(1, 200):
        board.publish(status(sheet=str(n)))
    for reader in readers:
        reader.join()
    for mine in seen:
        assert mine == sorted(set(mine))
        assert mine[-1] == 200


def lies(tray: str, at: int) -> dict[str, object]:
    way = ("on its way", "developer", "drain")
    return {"number": 1, "tray": tray, "way": way, "at": at, "entered_ns": 0, "until_ns": None}


def test_a_print_that_goes_on_is_news_that_leaves_what_was_decided_standing() -> None:
    """Whoever looks is told of it; an act that was chosen before it still counts, and after any other news does not."""
    board = Snapshots()
    first = board.publish(status(prints=(lies("on its way", 0),), can=("close",)))
    moved = board.publish(status(prints=(lies("developer", 1),), white_from_ns=9, can=("load",)))
    assert moved.number == first.number + 1
    assert moved.holds(first.number)
    assert not moved.holds(moved.number + 1)
    other = board.publish(status("lead-in", prints=(lies("developer", 1),)))
    assert other.holds(other.number)
    assert not other.holds(moved.number)
    assert not status().holds(1)
