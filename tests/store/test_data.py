"""A data folder is its owner's, has one daemon at a time, and keeps its secret."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from tools.patience import line_from

from controller.commands.check.card import look_at_stores
from controller.errors import StoreTrouble
from controller.files import write_whole
from controller.store.folder import DataFolder

OWNER = """
import sys, time
from pathlib import Path
from controller.store.folder import DataFolder
data = DataFolder(Path(sys.argv[1]))
data.lock()
print("owned", flush=True)
time.sleep(60)
"""


@contextmanager
def another_daemon(path: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process that owns the data folder, until it is killed."""
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    with subprocess.Popen(
        [sys.executable, "-c", OWNER, str(path)], stdout=subprocess.PIPE, env=environment, text=True
    ) as process:
        try:
            assert line_from(process) == "owned\n"
            yield process
        finally:
            process.send_signal(signal.SIGKILL)


def test_a_data_folder_is_made_for_its_owner_only(tmp_path: Path) -> None:
    """A folder that is not there is made, with the folders above it, and nobody else may look."""
    data = DataFolder(tmp_path / "a" / "b")
    assert stat.S_IMODE(data.path.stat().st_mode) == 0o700
    assert (data.journal.name, data.shelf.name, data.backups.name) == ("journal.db", "shelf.db", "backups")
    assert data.free_bytes() > 0


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    """Where a file stands in the way, the sentence names the folder and what to do."""
    (tmp_path / "file").touch()
    with pytest.raises(StoreTrouble, match=r"The data folder .* cannot be used: .* name another folder"):
        DataFolder(tmp_path / "file")


def test_one_process_owns_a_data_folder(tmp_path: Path) -> None:
    """A second process is refused with the first one's number; when the first is killed, the folder is free."""
    data = DataFolder(tmp_path)
    with another_daemon(tmp_path) as other:
        with pytest.raises(StoreTrouble, match=f"process {other.pid}"):
            data.lock()
        with pytest.raises(StoreTrouble, match="in use by another"), data.locked():
            pytest.fail("owned by two")
    data.lock()
    data.unlock()


def test_owning_twice_and_giving_up_twice_do_nothing(tmp_path: Path) -> None:
    """Locking and unlocking say what shall be so, not what to change; a while inside ownership does not end it."""
    data, other = DataFolder(tmp_path), DataFolder(tmp_path)
    data.lock()
    data.lock()
    with data.locked():
        pass
    with pytest.raises(StoreTrouble):
        other.lock()
    data.unlock()
    data.unlock()
    with other.locked(), pytest.raises(StoreTrouble):
        data.lock()
    data.lock()
    data.unlock()


def test_the_key_outlives_restarts(tmp_path: Path) -> None:
    """The key is 32 bytes, the same ones again and again, readable by the owner only."""
    key = DataFolder(tmp_path).key()
    place = tmp_path / "secret.key"
    assert len(key) == 32
    assert DataFolder(tmp_path).key() == key
    place.chmod(0o644)
    assert DataFolder(tmp_path).key() == key
    assert stat.S_IMODE(place.stat().st_mode) == 0o600


def test_the_key_is_read_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever knows the key waits for no card any more: a page's STOP is judged with it."""
    data = DataFolder(tmp_path)
    key = data.key()

    def stuck(*_: object, **__: object) -> bytes:
        raise AssertionError("the card was asked")

    for touch in ("read_bytes", "chmod", "exists"):
        monkeypatch.setattr(Path, touch, stuck)
    assert data.key() == key


def test_two_folders_have_two_keys(tmp_path: Path) -> None:
    """Keys are random."""
    assert DataFolder(tmp_path / "a").key() != DataFolder(tmp_path / "b").key()


def test_a_broken_key_gives_way_to_a_new_one(tmp_path: Path) -> None:
    """A key file cut short is replaced by a whole one."""
    (tmp_path / "secret.key").write_bytes(b"short")
    key = DataFolder(tmp_path).key()
    assert len(key) == 32
    assert DataFolder(tmp_path).key() == key


def test_a_write_that_fails_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file is written whole or not at all, and no draft of it stays behind."""
    place = tmp_path / "file"
    write_whole(place, b"before")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_whole(place, b"after")
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("file", b"before")]


@pytest.mark.parametrize("mode", [0o777, 0o770, 0o702])
def test_a_folder_that_others_may_change_is_not_used(tmp_path: Path, mode: int) -> None:
    """A data folder in which another user may write is refused with the command that mends it; the check says so."""
    folder = tmp_path / "data"
    folder.mkdir()
    folder.chmod(mode)
    data = DataFolder(folder)
    with pytest.raises(StoreTrouble, match=r"chmod go-w"):
        data.lock()
    assert [one.name for one in look_at_stores(data, daemon=data.is_owned()) if one.level == "must"] == ["folder"]
    folder.chmod(0o750)
    data.lock()
    data.unlock()
