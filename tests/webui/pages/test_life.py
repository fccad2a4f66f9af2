"""A negative's life as one row of pictures: in order, with times and verdicts, on threads that no edit cuts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryFile

import pytest
from tools.history import through_trays
from tools.negatives import photograph, tree
from tools.shelf_phone import Phone
from tools.stand_in_desk import StandInDesk, day_desk
from tools.worked_negative import WorkedNegative

from controller.store.said_of_sheets import ReferencePrint
from controller.trays.process import TrayName
from controller.words import say
from webui.pages.life import IN_A_ROW

LONGEST_PAGE = 60_000
"""Bytes of a page as it stands, before it is compressed."""


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[StandInDesk]:
    with day_desk() as made:
        made.keep_pictures_in(tmp_path / "pictures")
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


@pytest.fixture
def worked(desk: StandInDesk) -> WorkedNegative:
    kept = desk.negatives().make(tree(12, frames=[{"frame": "4", "title": "quay at dawn"}]))
    return WorkedNegative(desk, f"{kept.id}:4")


def address(worked: WorkedNegative) -> str:
    source, frame = worked.at.negative.split(":")
    return f"/negatives/{source}/frame/{frame}"


def cells(text: str) -> list[str]:
    """Return the row's cells, the proof's first."""
    row = re.search(r'<ol class="life".*?</ol>', text, re.DOTALL)
    return re.findall(r"<li>.*?</li>", row[0], re.DOTALL) if row else []


def bare(cell: str) -> str:
    return re.sub(r"\s+", " ", re.sub("<svg.*?</svg>|<[^>]*>", " ", cell, flags=re.DOTALL)).strip()


def knots(cell: str) -> int:
    return cell.count("a4 4 0 1 0 8 0")


def test_a_row_tells_the_evening(phone: Phone, worked: WorkedNegative) -> None:
    """Proof, soft strip, hard strip, three prints: each with its times and what was said of it, one line after another.

    The recipe was edited twice by hand before the second print: its thread hangs on the first all the same.
    """
    worked.evening()
    row = cells(phone.look(address(worked)).text)
    assert [bare(cell) for cell in row] == [
        say("negatives.row-proof"),
        "1 strip soft 6.0 to 24.0 s picked 12.0 s",
        "2 strip hard 0.0 to 16.0 s over soft 12.0 s picked 8.0 s",
        "3 print soft 12.0 s hard 8.0 s Highlight a little light, shadow right",
        "4 print soft 12.0 s hard 8.0 s right",
        "5 print soft 12.0 s hard 8.0 s",
    ]
    assert [knots(cell) for cell in row] == [0, 0, 1, 1, 1, 1]
    links = [re.findall('href="([^"]*)"', cell) for cell in row]
    assert links == [[], *([f"/sheets/sheet-{number}"] for number in range(1, 6))]


def test_a_photograph_stands_for_its_drawing(phone: Phone, desk: StandInDesk, worked: WorkedNegative) -> None:
    """A print that was photographed is shown as it is, small; where the picture is gone it is drawn again."""
    print_ = worked.evening()[2]
    with TemporaryFile() as file:
        file.write(photograph())
        with desk.photographs().taken_in(file, "print.jpg", small=True) as (_, small):
            worked.photographed(print_, small)
    cell = cells(phone.look(address(worked)).text)[3]
    assert f'src="/photographs/{small}.jpg"' in cell
    assert 'class="picture"' not in cell
    desk.photographs()._pictures.drop(small)
    cell = cells(phone.look(address(worked)).text)[3]
    assert "<img" not in cell
    assert 'class="picture"' in cell


def test_a_print_tells_its_trays(phone: Phone, worked: WorkedNegative) -> None:
    """How long it was developed and fixed stands under its lights, as far as anybody followed it."""
    last = worked.evening()[-1]
    way: tuple[tuple[TrayName, int], ...] = (("developer", 135_000), ("fix 1", 60_000), ("fix 2", 120_000))
    worked.journal.append(*through_trays(last.id, last.number, *way))
    assert bare(cells(phone.look(address(worked)).text)[-1]) == (
        "5 print soft 12.0 s hard 8.0 s developed 2:15 fixed 3:00"
    )


def test_nothing_made_says_so(phone: Phone, worked: WorkedNegative) -> None:
    """Before the first sheet there is no row, but a sentence."""
    page = phone.look(address(worked))
    assert cells(page.text) == []
    assert say("negatives.life-none") in page.words


def test_the_reference_print_says_so(phone: Phone, worked: WorkedNegative) -> None:
    """The print that others are held against is told as right."""
    last = worked.evening()[-1]
    worked.journal.append(ReferencePrint(sheet=last.id))
    assert bare(cells(phone.look(address(worked)).text)[-1]).endswith(say("negatives.row-reference"))


def test_400_sheets_are_paged(phone: Phone, worked: WorkedNegative) -> None:
    """A page shows the newest 20, the oldest of them first; the others are reached step by step, each exactly once."""
    *_, print_ = worked.evening()
    for _ in range(395):
        worked.sheet(print_.plan.source)
    while not worked.desk.lookups.follow():
        pass
    seen: list[int] = []
    place, steps = address(worked), 0
    while place:
        page = phone.look(place)
        assert len(page.text.encode()) <= LONGEST_PAGE
        row = cells(page.text)
        numbers = [int(number) for cell in row for number in re.findall(r"/sheets/sheet-(\d+)", cell)]
        assert numbers == sorted(numbers)
        assert len(numbers) <= IN_A_ROW
        seen = numbers + seen
        if steps == 0:
            assert numbers == list(range(381, 401))
            assert say("negatives.row-from", number=380) in bare(row[1])
        following = [
            link for link in page.links if "below=" in link and say("negatives.row-earlier") in _said(page.text, link)
        ]
        if steps == 1:
            back = [link for link in page.links if say("negatives.row-later") in _said(page.text, link)]
            assert back == [f"{address(worked)}#life"]
        place, steps = (following[0] if following else ""), steps + 1
    assert seen == list(range(1, 401))
    assert steps == 20


def _said(text: str, link: str) -> str:
    found = re.search(rf'href="{re.escape(link)}">([^<]*)<', text)
    return found[1] if found else ""
