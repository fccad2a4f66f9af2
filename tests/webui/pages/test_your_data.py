"""Your data, by day: backed up at once, taken out as one file; each act gives way to a sheet."""

from __future__ import annotations

import io
import json
import re
import socket
import threading
import time
import zipfile
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from tools.history import FakeWall, whole_sheet
from tools.known_papers import known
from tools.owner import OWN, Owner
from tools.patience import PATIENCE_S
from tools.phone import Paired, words_of
from tools.stand_in_desk import CRANE, PROOF_STRIP, StandInDesk
from werkzeug.test import TestResponse

from controller.backup.dated import backups
from controller.backup.export import export
from controller.backup.import_ import import_
from controller.daemon import your_data
from controller.errors import Unreadable
from controller.paper.paper import write_paper
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.settings import Settings, keep_settings, write_settings
from controller.store.shelf import Shelf
from controller.words import say, say_many
from hardware.clock import ManualClock
from webui.app import create_app
from webui.frame.live import STREAMS
from webui.server import LOOKS, Server


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    """A data folder with a recipe and a sheet."""
    data = DataFolder(tmp_path / "data")
    shelf = Shelf.open(data.shelf)
    shelf.save("recipe", "Harbour crane, 8x10", CRANE)
    shelf.close()
    journal = Journal.open(data.journal, ManualClock(), FakeWall().stamp())
    journal.append(*whole_sheet("s1", 1))
    journal.close()
    return data


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """A busy machine may take its time: a page here waits until what was asked for is done."""
    monkeypatch.setattr(your_data, "AT_ONCE_S", PATIENCE_S)


@pytest.fixture
def by_day(desk: StandInDesk, data: DataFolder) -> Iterator[StandInDesk]:
    """The desk of that folder, its chores at work, by day."""
    with Shelf.open(data.shelf) as shelf:
        desk.data_in(data.path, shelf)
        desk.chores.start()
        desk.say_day()
        yield desk
        desk.chores.stop()


@pytest.fixture
def held(by_day: StandInDesk, data: DataFolder, monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """What is asked for stays under way until this is set; no page waits for it."""
    monkeypatch.setattr(your_data, "AT_ONCE_S", 0.0)
    go = threading.Event()
    rest = by_day.chores.give_way

    def wait() -> None:
        go.wait(PATIENCE_S)
        rest()

    monkeypatch.setattr(by_day.chores, "give_way", wait)
    yield go
    go.set()


def files_in(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def settled(desk: StandInDesk) -> None:
    end = time.monotonic() + PATIENCE_S
    while desk.your_data().view().under_way:
        assert time.monotonic() < end, "it never ends"
        time.sleep(0.01)


def test_a_backup_is_made_at_once(phone: Paired, by_day: StandInDesk, data: DataFolder) -> None:
    """One press makes the backup that the night would make, and the page says of which day it is, and where it lies."""
    assert say("data.backup-none") in words_of(phone.look("/data"))
    assert phone.send("/data/backup").status_code == 303
    (made,) = backups(data)
    assert str(made[0]) in words_of(phone.look("/data"))
    assert made[1].day.isoformat() in words_of(phone.look("/data"))


def test_everything_is_taken_out_in_one_file(
    phone: Paired, by_day: StandInDesk, data: DataFolder, tmp_path: Path
) -> None:
    """What comes down is a file to be kept, and it holds byte by byte what an export of the folder holds."""
    assert phone.send("/data/out").status_code == 303
    assert 'href="/data/out.zip"' in phone.look("/data").text
    came = phone.look("/data/out.zip")
    assert (came.status_code, came.mimetype) == (200, "application/zip")
    assert came.headers["Content-Disposition"].startswith("attachment; filename=treadle-")
    with zipfile.ZipFile(io.BytesIO(came.data)) as whole:
        whole.extractall(tmp_path / "unpacked")
    came.close()
    (folder,) = (tmp_path / "unpacked").iterdir()
    assert files_in(folder) == files_in(export(data, tmp_path / "plain"))


def test_nothing_to_fetch_is_said(phone: Paired, by_day: StandInDesk) -> None:
    """Before the file is made there is none, and the sentence says what to do; also after it was thrown away."""
    assert phone.look("/data/out.zip").status_code == 404
    phone.send("/data/out")
    by_day.your_data().clear()
    answer = phone.look("/data/out.zip")
    assert (answer.status_code, say("data.none-out") in words_of(answer)) == (404, True)


@pytest.mark.parametrize("address", ["/data/backup", "/data/out"])
@pytest.mark.parametrize("under_way", ["backup", "out"])
def test_one_at_a_time(
    phone: Paired, by_day: StandInDesk, held: threading.Event, data: DataFolder, address: str, under_way: str
) -> None:
    """While one is under way the page says so, and another is refused in words; afterwards it is taken."""
    phone.send(f"/data/{under_way}")
    sentence = say(f"data.under-way-{under_way}")
    answer = phone.send(address)
    assert (answer.status_code, sentence in words_of(answer)) == (409, True)
    assert sentence in words_of(phone.look("/data"))
    held.set()
    settled(by_day)
    assert sentence not in words_of(phone.look("/data"))
    assert phone.send(address).status_code == 303


@pytest.mark.parametrize("what", ["backup", "out"])
def test_it_is_given_up_when_a_sheet_is_opened(
    phone: Paired, by_day: StandInDesk, held: threading.Event, data: DataFolder, what: str
) -> None:
    """A sheet that is opened meanwhile ends it with nothing left; by day the page says so."""
    phone.send(f"/data/{what}")
    by_day.show(open=True)
    held.set()
    settled(by_day)
    by_day.say_day()
    assert backups(data) == []
    assert not (data.path / "taken-out").exists()
    page = words_of(phone.look("/data"))
    if what == "out":
        assert say("data.out-given-up") in page
    else:
        assert "The next is made at" in page


@pytest.mark.parametrize("address", ["/data/backup", "/data/out"])
def test_nothing_is_begun_while_a_sheet_is_open(
    phone: Paired, by_day: StandInDesk, data: DataFolder, address: str
) -> None:
    """With the day face away each is refused, and so is the file; where a sheet was opened just now, too."""
    phone.send("/data/out")
    before = sorted(files_in(data.path))
    by_day.show(open=True)
    answer = phone.send(address)
    assert (answer.status_code, say("data.sheet-open") in words_of(answer)) == (409, True)
    by_day.show(day_until_ns=None)
    assert phone.send(address).status_code == 409
    assert phone.look("/data").status_code == phone.look("/data/out.zip").status_code == 409
    assert sorted(files_in(data.path)) == before


def test_what_goes_wrong_is_said(phone: Paired, by_day: StandInDesk, monkeypatch: pytest.MonkeyPatch) -> None:
    """A card without room is told on the page, for the backup and for the file, and told no more once it went well."""
    monkeypatch.setattr(DataFolder, "free_bytes", lambda _: 0)
    phone.send("/data/backup")
    phone.send("/data/out")
    assert words_of(phone.look("/data")).count("There is no room") == 2
    monkeypatch.undo()
    monkeypatch.setattr(your_data, "AT_ONCE_S", PATIENCE_S)
    phone.send("/data/backup")
    phone.send("/data/out")
    assert "There is no room" not in words_of(phone.look("/data"))


def bring(phone: Paired, name: str, what: bytes | str) -> TestResponse:
    body = what.encode() if isinstance(what, str) else what
    return phone.send("/data/in", {"file": (io.BytesIO(body), name)})


def links(page: TestResponse) -> list[str]:
    """What came in, as the page lists it."""
    return re.findall(r'<li><a href="(/(?:shelf|papers)/[0-9a-z]+|/settings)">', page.text)


@pytest.mark.parametrize(
    ("name", "text", "leads"),
    [
        ("crane.json", CRANE.replace("Harbour crane", "Another crane"), "/shelf/"),
        ("proof.json", PROOF_STRIP, "/shelf/"),
        ("settings.json", write_settings(Settings(safe_minutes=4)), "/settings"),
        ("paper.json", write_paper(known()), "/papers/"),
    ],
)
def test_a_file_comes_in(
    phone: Paired, by_day: StandInDesk, data: DataFolder, name: str, text: str, leads: str
) -> None:
    """A recipe, strip, paper or settings file is kept as the command keeps it, and listed with a link to it."""
    assert bring(phone, name, text).status_code == 303
    page = phone.look("/data")
    assert say_many("data.in-came", 1) in words_of(page)
    (link,) = links(page)
    assert link.startswith(leads)
    if leads == "/settings":
        assert by_day.settings().safe_minutes == 4
    else:
        with Shelf.look(data.shelf) as shelf:
            assert shelf.get(link.removeprefix(leads)).body == text
    bring(phone, name, text)
    assert say("data.in-here") in words_of(phone.look("/data"))


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("bad.json", "{"),
        ("picture.png", b"\x89PNG\r\n\x1a\n" + bytes(range(256))),
        ("long.json", b" " * 262_145),
        ("spell.json", '{"format": "treadle/spell/1"}'),
        ("settings.json", '{"format": "treadle/settings/1", "beat_seconds": 99}'),
        ("recipe.json", CRANE.replace("10.1", "-1")),
        ("export.json", '{"format": "treadle/export/1", "shelf": [], "away": [], "rows": 0}'),
    ],
)
def test_a_bad_file_is_refused_in_the_imports_own_sentence(
    phone: Paired, by_day: StandInDesk, data: DataFolder, tmp_path: Path, name: str, what: bytes | str
) -> None:
    """The page says what `treadle import` says of the same file, and nothing is kept."""
    place = tmp_path / name
    place.write_bytes(what.encode() if isinstance(what, str) else what)
    with pytest.raises(Unreadable) as told:
        import_(place, DataFolder(tmp_path / "other"))
    with Shelf.look(data.shelf) as shelf:
        before = shelf.marks()
        answer = bring(phone, name, what)
        assert shelf.marks() == before
    assert answer.status_code == 303
    page = phone.look("/data")
    assert " ".join(str(told.value).replace(f"{tmp_path}/", "").split()) in words_of(page)
    assert not links(page)


def test_no_file_is_said(phone: Paired, by_day: StandInDesk) -> None:
    """A press with nothing chosen is a sentence."""
    answer = phone.send("/data/in", {"file": (io.BytesIO(b""), "")})
    assert answer.status_code == 303
    assert say("data.no-file") in words_of(phone.look(answer.headers["Location"]))


def test_what_was_taken_out_comes_in_elsewhere(
    phone: Paired, by_day: StandInDesk, data: DataFolder, tmp_path: Path
) -> None:
    """A zip of one darkroom makes the things of an empty one the same; of the sheets the page says why they stayed."""
    keep_settings(by_day.your_data()._shelf, Settings(safe_minutes=7))
    bring(phone, "proof.json", PROOF_STRIP)
    phone.send("/data/out")
    with phone.look("/data/out.zip") as came:
        packed = came.data
    other = DataFolder(tmp_path / "other")
    with Shelf.open(other.shelf) as shelf:
        by_day.chores.stop()
        by_day.data_in(other.path, shelf)
        by_day.chores.start()
        assert bring(phone, "all.zip", packed).status_code == 303
        page = phone.look("/data")
        assert len(links(page)) == 3
        assert say("data.in-no-sheets") in words_of(page)
        assert by_day.settings().safe_minutes == 7
    here, there = (files_in(export(each, tmp_path / name)) for each, name in ((data, "here"), (other, "there")))
    of_things = [name for name in here if name.startswith(("recipes/", "strips/", "settings"))]
    assert len(of_things) == 3
    assert {name: there.get(name) for name in of_things} == {name: here[name] for name in of_things}
    lists = [json.loads(files["export.json"]) for files in (here, there)]
    assert lists[0]["shelf"] == lists[1]["shelf"]
    assert (lists[0]["rows"] > 0, lists[1]["rows"]) == (True, 0)


def test_a_bad_zip_is_refused(phone: Paired, by_day: StandInDesk, data: DataFolder) -> None:
    """What is wrong with a zip is said on the page, until something good is brought."""
    bring(phone, "all.zip", b"PK and no more")
    assert say("data.zip-broken", file="all.zip") in words_of(phone.look("/data"))
    bring(phone, "proof.json", PROOF_STRIP)
    assert say("data.zip-broken", file="all.zip") not in words_of(phone.look("/data"))


def test_a_file_waits_for_the_day(phone: Paired, by_day: StandInDesk, data: DataFolder) -> None:
    """While the day face is away nothing comes in, single or packed; where a sheet was opened just now, no zip does."""
    with Shelf.look(data.shelf) as shelf:
        before = shelf.marks()
        by_day.show(open=True)
        assert bring(phone, "all.zip", b"PK").status_code == 409
        by_day.show(day_until_ns=None)
        assert bring(phone, "proof.json", PROOF_STRIP).status_code == 409
        assert shelf.marks() == before


def test_the_page_is_found(phone: Paired, by_day: StandInDesk) -> None:
    """Settings and shelf both lead to it."""
    for address in ("/settings", "/shelf"):
        assert 'href="/data"' in phone.look(address).text


def test_slow_phones_hold_up_nobody(data: DataFolder) -> None:
    """More downloads than the server has threads, none of them read on: pages and STOP are answered all the same."""
    (data.path / "taken-out").mkdir()
    with (data.path / "taken-out" / "treadle-2026-11-30.zip").open("wb") as file:
        file.truncate(8_000_000)
    desk = StandInDesk()
    desk.clock = time.monotonic_ns
    desk.data_in(data.path)
    desk.say_day()
    server = Server(create_app(desk, hosts=[OWN]), OWN, 0)
    server.start()
    try:
        owner = Owner(server)
        asked = b"GET /data/out.zip HTTP/1.1\r\nHost: %s:%d\r\nCookie: %s\r\n\r\n" % (
            OWN.encode(),
            owner.port,
            owner.cookie,
        )
        with ExitStack() as open_:
            for _ in range(STREAMS + LOOKS + 4):
                line = open_.enter_context(socket.socket())
                line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)  # it is not taken in for the phone either
                line.settimeout(PATIENCE_S)
                line.connect((OWN, owner.port))
                line.sendall(asked)
                assert line.recv(12) == b"HTTP/1.1 200"
            assert b" 200 " in owner.send(b"GET /health")[:20]
            assert b" 200 " in owner.send(b"GET /data", b"Cookie: " + owner.cookie + b"\r\n")[:20]
            assert owner.press()
        whole = owner.send(b"GET /data/out.zip", b"Cookie: " + owner.cookie + b"\r\n")
        assert len(whole.partition(b"\r\n\r\n")[2]) == 8_000_000
    finally:
        server.close()
