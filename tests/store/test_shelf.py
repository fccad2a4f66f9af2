"""The shelf keeps every version of everything, and never overwrites."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.history import FakeWall

from controller.errors import NotThere, StoreTrouble
from controller.model import ID_LENGTH, LETTERS, new_id
from controller.store.schemas import SHELF
from controller.store.shelf import Shelf
from controller.store.versions import Away, Kept


@pytest.fixture
def wall_clock() -> FakeWall:
    return FakeWall()


@pytest.fixture
def shelf(tmp_path: Path, wall_clock: FakeWall) -> Iterator[Shelf]:
    with Shelf.open(tmp_path / "shelf.db", wall_clock.now) as opened:
        yield opened


def test_saving_adds_a_version_and_keeps_the_ones_before(shelf: Shelf, wall_clock: FakeWall) -> None:
    """A changed body is a new version of the same id; every version can still be had."""
    first = shelf.save("recipe", "Crane", "one")
    wall_clock.at += timedelta(hours=1)
    second = shelf.save("recipe", "Crane, darker", "two", first.id)
    assert (first.version, second.version, second.id) == (1, 2, first.id)
    assert (first.made, second.made) == ("2025-03-01T19:00:00.000Z", "2025-03-01T20:00:00.000Z")
    assert shelf.versions(first.id) == (second, first)
    assert shelf.get(first.id) == second
    assert shelf.get(first.id, 1) == first


def test_saving_what_is_the_latest_already_adds_nothing(shelf: Shelf) -> None:
    """The identical body and title give the present version; going back to an older body makes a new one."""
    first = shelf.save("recipe", "Crane", "one")
    assert shelf.save("recipe", "Crane", "one", first.id) == first
    shelf.save("recipe", "Crane", "two", first.id)
    assert shelf.save("recipe", "Crane", "one", first.id).version == 3


@pytest.mark.parametrize("version", [-(2**63) - 1, -1, 0, 2, 2**63, 10**40])
def test_a_version_that_was_never_kept_is_not_there(shelf: Shelf, version: int) -> None:
    """Whatever number is asked for, beyond what a file can hold too: it is not there, and that is said."""
    made = shelf.save("recipe", "Crane", "{}")
    with pytest.raises(NotThere):
        shelf.get(made.id, version)


def test_another_title_is_another_version(shelf: Shelf) -> None:
    """Renaming is a change like any other, though the body is the same."""
    first = shelf.save("recipe", "Crane", "one")
    assert shelf.save("recipe", "Crane, darker", "one", first.id).version == 2


def test_the_list_has_the_latest_of_each_last_saved_first(shelf: Shelf) -> None:
    """Of each thing of a kind the latest version is listed, last saved first."""
    crane = shelf.save("recipe", "Crane", "one")
    slip = shelf.save("recipe", "Slip", "one")
    strip = shelf.save("strip", "Proof", "one")
    crane2 = shelf.save("recipe", "Crane", "two", crane.id)
    assert shelf.latest("recipe") == (crane2, slip)
    assert shelf.latest("strip") == (strip,)
    assert shelf.latest("paper") == ()


def test_putting_away_takes_off_the_list_and_loses_nothing(shelf: Shelf) -> None:
    """What is put away is not listed, keeps its versions, and can be taken out again; twice does nothing more."""
    crane = shelf.save("recipe", "Crane", "one")
    shelf.put_away(crane.id)
    shelf.put_away(crane.id)
    assert shelf.latest("recipe") == ()
    assert shelf.latest("recipe", away=True) == (crane,)
    assert shelf.get(crane.id) == crane
    shelf.take_out(crane.id)
    shelf.take_out(crane.id)
    assert shelf.latest("recipe") == (crane,)
    assert [word.away for word in shelf.everything()[1]] == [True, False]


def test_what_is_not_there_is_said(shelf: Shelf) -> None:
    """An unknown id, a version there is not, and an id of another kind are refused in a sentence."""
    strip = shelf.save("strip", "Proof", "one")
    with pytest.raises(NotThere, match="no recipe, strip or paper called nobody"):
        shelf.get("nobody")
    with pytest.raises(NotThere, match="“Proof” has no version 2; its latest is 1"):
        shelf.get(strip.id, 2)
    with pytest.raises(NotThere, match="no recipe, strip or paper called"):
        shelf.save("recipe", "Crane", "one", strip.id)
    for act in (shelf.put_away, shelf.take_out):
        with pytest.raises(NotThere):
            act("nobody")
    assert shelf.everything() == ((strip,), ())


def test_there_is_one_set_of_settings(shelf: Shelf) -> None:
    """Settings have one id, whoever saves them."""
    shelf.save("settings", "settings", "one", only=True)
    shelf.save("settings", "settings", "two", only=True)
    (kept,) = shelf.latest("settings")
    assert (kept.id, kept.version, kept.body) == ("settings", 2, "two")


@pytest.mark.parametrize("change", ["UPDATE kept SET body = ''", "DELETE FROM kept", "DELETE FROM away"])
def test_the_file_refuses_to_change_or_drop_a_version(shelf: Shelf, change: str) -> None:
    """What is kept stays as it was, even for somebody who asks the database itself."""
    kept = shelf.save("recipe", "Crane", "one")
    shelf.put_away(kept.id)
    with pytest.raises(sqlite3.IntegrityError, match="only ever added to"):
        shelf._connection.execute(change)


def test_ids_can_be_read_aloud() -> None:
    """Ids are short and have no letters or digits that look or sound like others."""
    ids = {new_id() for _ in range(500)}
    assert len(ids) == 500
    assert all(len(id_) == ID_LENGTH and set(id_) <= set(LETTERS) for id_ in ids)
    assert not set(LETTERS) & set("01oilOIL")


def test_threads_that_save_at_once_make_a_version_each(shelf: Shelf) -> None:
    """Saves from several threads come one after the other: no version is lost or made twice."""
    kept = shelf.save("recipe", "Crane", "start")
    threads = [
        threading.Thread(target=lambda n=n: [shelf.save("recipe", "Crane", f"{n}.{m}", kept.id) for m in range(10)])
        for n in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    versions = shelf.versions(kept.id)
    assert [one.version for one in versions] == list(range(41, 0, -1))
    assert len({one.body for one in versions}) == 41


def test_a_looker_reads_beside_the_writer_and_cannot_save(shelf: Shelf, tmp_path: Path) -> None:
    """A shelf opened for looking sees what was saved, and refuses to save."""
    kept = shelf.save("recipe", "Crane", "one")
    with Shelf.look(tmp_path / "shelf.db") as looker:
        assert looker.latest("recipe") == (kept,)
        with pytest.raises(StoreTrouble, match="can only be read"):
            looker.save("recipe", "Slip", "one")


def test_what_was_saved_is_there_when_the_shelf_is_opened_again(tmp_path: Path) -> None:
    """The shelf outlives a restart, and is one file once closed."""
    with Shelf.open(tmp_path / "shelf.db", FakeWall().now) as shelf:
        kept = shelf.save("paper", "Paper one", "{}")
    shelf.close()
    assert [path.name for path in tmp_path.iterdir()] == ["shelf.db"]
    with Shelf.open(tmp_path / "shelf.db", FakeWall().now) as shelf:
        assert shelf.get(kept.id) == kept


def test_a_damaged_shelf_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    """A shelf that is no database is not opened, and its bytes stay."""
    (tmp_path / "shelf.db").write_bytes(b"not a shelf" * 1000)
    with pytest.raises(StoreTrouble, match=r"The shelf .* is damaged"):
        Shelf.open(tmp_path / "shelf.db")
    assert (tmp_path / "shelf.db").read_bytes() == b"not a shelf" * 1000


bodies = st.lists(st.sampled_from("abcd"), max_size=4)


def _history(shelf: Shelf, texts: list[str], id_: str = "crane234") -> tuple[Kept, ...]:
    """Keep the texts as versions of one id, and return them."""
    made = "2025-03-01T19:00:00.000Z"
    kept = [
        Kept(id=id_, version=n, kind="recipe", title="Crane", body=text, made=made) for n, text in enumerate(texts, 1)
    ]
    shelf.take_in(kept)
    return tuple(kept)


@settings(max_examples=80)
@given(bodies, bodies, bodies)
def test_taking_in_another_shelf_keeps_both_histories(common: list[str], mine: list[str], theirs: list[str]) -> None:
    """What was here stays as it was, all that the other had is here, and taking in again brings nothing."""
    with Shelf.in_memory(FakeWall().now) as here, Shelf.in_memory(FakeWall().now) as there:
        before = _history(here, common + mine)
        other = _history(there, common + theirs)
        here.take_in(other)
        after = here.everything()[0]
        assert after[: len(before)] == before
        assert {one.body for one in other} <= {one.body for one in after}
        assert [one.version for one in after] == list(range(1, len(after) + 1))
        if not before:
            assert after == other
        assert here.take_in(other) == ()


def test_what_was_put_away_here_stays_so_whatever_another_shelf_says(shelf: Shelf) -> None:
    """What another shelf says of putting away is taken over where it goes on from here, and not where it parts."""
    (kept,) = _history(shelf, ["one"])
    away, out = (Away(id=kept.id, away=said, made="2025-03-01T19:00:00.000Z") for said in (True, False))
    shelf.take_in([kept], [away])
    shelf.take_in([kept], [away, out])
    assert shelf.everything()[1] == (away, out)
    shelf.put_away(kept.id)
    shelf.take_in([kept], [out, away, out])
    assert shelf.latest("recipe") == ()


def test_taking_in_is_all_or_nothing(shelf: Shelf) -> None:
    """When one version cannot be kept, none is."""
    good = Kept(id="aaaa", version=1, kind="recipe", title="A", body="a", made="m")
    bad = Kept(id="aaaa", version=1, kind="recipe", title="B", body="b", made="m")
    with pytest.raises(StoreTrouble):
        shelf.take_in([good, bad])
    assert shelf.everything() == ((), ())


def test_what_is_kept_together_is_kept_whole(shelf: Shelf) -> None:
    """Of several things kept together either all are there or, where one is refused, none; ids are free again."""
    before = shelf.everything()

    def half() -> None:
        with shelf.together():
            shelf.save("recipe", "Crane", "one")
            shelf.save("strip", "Strip", "two", "no-such-id")

    with pytest.raises(NotThere):
        half()
    assert shelf.everything() == before
    with shelf.together():
        shelf.save("recipe", "Crane", "one")
        with shelf.together():
            shelf.save("carry", "Crane", "three")
    assert [one.kind for one in shelf.everything()[0][len(before[0]) :]] == ["recipe", "carry"]


def test_a_shelf_of_the_first_version_is_brought_up(tmp_path: Path) -> None:
    """A file of version 1 keeps all it has, in its order, takes new kinds, and still refuses any change."""
    path = tmp_path / "shelf.db"
    with closing(sqlite3.connect(path)) as old:
        old.executescript(SHELF.migrations[0])
        old.execute(f"PRAGMA application_id = {SHELF.mark}")
        old.execute("PRAGMA user_version = 1")
        row = "INSERT INTO kept (id, version, kind, title, body, made) VALUES (?, ?, ?, ?, ?, ?)"
        for version in (1, 2):
            old.execute(row, ("abc", version, "recipe", "Crane", f"body {version}", "2024-01-01T00:00:00+00:00"))
        old.execute("INSERT INTO away (id, away, made) VALUES ('abc', 1, '2024-01-01T00:00:00+00:00')")
        old.commit()
    with Shelf.open(path) as shelf:
        assert [kept.body for kept in shelf.versions("abc")] == ["body 2", "body 1"]
        assert [kept.id for kept in shelf.latest("recipe", away=True)] == ["abc"]
        assert shelf.save("carry", "Crane", "{}").version == 1
        with pytest.raises(sqlite3.IntegrityError, match="only ever added to"):
            shelf._connection.execute("UPDATE kept SET body = 'x'")
        with pytest.raises(sqlite3.IntegrityError, match="only ever added to"):
            shelf._connection.execute("DELETE FROM kept")
