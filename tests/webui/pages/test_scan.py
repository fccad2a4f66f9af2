"""A scan with a grey scale in it, brought and marked by a thumb without scripts, read, and handed to the table."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from tools.daemon_bench import bench
from tools.hidden_papers import TABLET
from tools.scans import (
    CORNERS,
    HEIGHT,
    WIDTH,
    ScanPhone,
    bring,
    handed_on,
    in_reach,
    of_form,
    own_list,
    read_off,
    scanned,
)
from tools.shelf_phone import ORIGIN, Page
from tools.stand_in_desk import StandInDesk
from werkzeug.datastructures import FileStorage
from werkzeug.test import encode_multipart

from controller.daemon.scans import KEPT_NS, MOST_SCANS
from controller.foot import acts
from webui.app import create_app
from webui.forms.form import Typed
from webui.forms.paper_table import read_table_form


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[StandInDesk]:
    made = StandInDesk()
    made.lay_scans(tmp_path / "scans")
    made.say_day()
    yield made
    made.scans().close()
    made.kept_things.close()


@pytest.fixture
def phone(desk: StandInDesk) -> ScanPhone:
    return ScanPhone(desk)


@pytest.mark.parametrize(
    ("form", "deep"), [("PNG", False), ("PNG", True), ("TIFF", True), ("TIFF", False), ("JPEG", False)]
)
def test_from_the_scan_to_the_table(phone: ScanPhone, form: str, deep: bool) -> None:
    """PNG, TIFF and JPEG of 8 and 16 bit: every step in the card's reach stands in the table within 0.05."""
    page = phone.bring(scanned(form=form, deep=deep), f"scan.{form.lower()}")
    page = phone.press_here(page, "read", seconds="80", **{n.replace("-", "_"): at for n, at in CORNERS.items()})
    found = read_off(handed_on(phone, page), 0)
    assert len(in_reach()) >= 15
    for step, density in in_reach().items():
        assert found[step] == pytest.approx(density, abs=0.05)


def test_marked_by_clicks_alone(phone: ScanPhone) -> None:
    """Four taps on the picture, each one post, set the four corners in turn, within a pixel of what is shown."""
    page = phone.bring(scanned())
    shown = phone.desk.scans().find(dict(page.fields)["scan"]).shown(1)
    for name in CORNERS:
        assert dict(page.fields)["mark"] == name
        across, down = (int(part) for part in CORNERS[name].split())
        tap = {"day.x": str(across * shown[0] // WIDTH), "day.y": str(down * shown[1] // HEIGHT)}
        page = phone.press_here(page, "", **tap)
    fields = dict(page.fields)
    for name, at in CORNERS.items():
        for clicked, true in zip(fields[name].split(), at.split(), strict=True):
            assert abs(int(clicked) - int(true)) <= WIDTH / shown[0]
    found = read_off(handed_on(phone, phone.press_here(page, "read", seconds="80")), 0)
    for step, density in in_reach().items():
        assert found[step] == pytest.approx(density, abs=0.06)


def test_closer_means_the_same_place(phone: ScanPhone) -> None:
    """A tap on the picture three times as large sets the pixel that it shows."""
    page = phone.press_here(phone.bring(scanned()), "zoom 3")
    page = phone.press_here(page, "", **{"day.x": "420", "day.y": "90"})
    across, down = (int(part) for part in dict(page.fields)["scale-first"].split())
    assert across == pytest.approx(420.5 * WIDTH / 840, abs=1)
    assert down == pytest.approx(90.5 * WIDTH / 840, abs=2)


def test_two_prints_come_to_one_table(phone: ScanPhone) -> None:
    """Soft and hard prints, read one after the other, stand beside each other in the table, with how they were read."""
    typed = {n.replace("-", "_"): at for n, at in CORNERS.items()}
    page = phone.press_here(phone.bring(scanned()), "read", seconds="80", **typed)
    answer = phone.client.post("/papers/scan", data=of_form(page, do="another"), headers={"Origin": ORIGIN})
    page = Page(answer.text)
    assert "One print has been read" in page.words
    page = phone.bring(scanned((0.0, 60.0)), page=page)
    page = phone.press_here(page, "read", light="hard", seconds="60", **typed)
    table = read_table_form(Typed(handed_on(phone, page).fields))
    assert [(each.light, each.seconds, each.how) for each in table.columns] == [
        ("soft", "80", "scan"),
        ("hard", "60", "scan"),
    ]
    written, wrong = replace(table, paper="Pearl").written()
    assert written is not None
    assert not wrong
    assert [each.how for each in written.exposures] == ["scan", "scan"]


def test_prints_come_along_from_the_table(phone: ScanPhone) -> None:
    """Sent here from the table without a scan, its columns stand by, and come back with the next scan's."""
    typed = {"tablet": "21", "column-0-light": "hard", "column-0-seconds": "60", "column-0-cell-5": "1.9"}
    bare = Page(phone.client.get("/papers/scan").text)
    answer = phone.client.post("/papers/scan", data=dict(bare.fields) | typed, headers={"Origin": ORIGIN})
    assert answer.status_code == 200
    page = phone.bring(scanned(), page=Page(answer.text))
    corners = {n.replace("-", "_"): at for n, at in CORNERS.items()}
    table = read_table_form(Typed(handed_on(phone, phone.press_here(page, "read", seconds="80", **corners)).fields))
    assert [(each.light, each.seconds) for each in table.columns] == [("hard", "60"), ("soft", "80")]
    assert table.columns[0].cell(5) == "1.9"


def test_bad_patches_are_named_step_by_step(phone: ScanPhone) -> None:
    """A label on step 9 and the steps blacker than the card are each named; those in reach are read all the same."""
    typed = {n.replace("-", "_"): at for n, at in CORNERS.items()}
    page = phone.press_here(phone.bring(scanned(labels=(9,))), "read", seconds="80", **typed)
    assert "step 9 reads 0.0" in page.words
    dark = ", ".join(str(step) for step in range(1, 22) if step not in in_reach())
    assert f"Steps {dark} are darker than the grey scale’s last patch (1.95)" in page.words
    assert "no black" not in page.words
    assert "Right: to the table" in page.words


@pytest.mark.parametrize("left_out", [(1,), (11,), (21,), (1, 2, 11, 20, 21)])
@pytest.mark.parametrize("way", ["tick", "list"])
def test_a_step_left_out_is_passed_over(phone: ScanPhone, left_out: tuple[int, ...], way: str) -> None:
    """By a tick or a dash in the tablet's list: the covered step alone has no reading."""
    typed: dict[str, Any] = {n.replace("-", "_"): at for n, at in CORNERS.items()} | {"seconds": "80"}
    typed |= {
        "tick": {"left_out": [str(step) for step in left_out]},
        "list": {"tablet": "own", "tablet_own": own_list(left_out)},
    }[way]
    page = phone.press_here(phone.bring(scanned(labels=left_out)), "read", **typed)
    named = ", ".join(map(str, left_out))
    assert (f"Step {named} was left out." if len(left_out) == 1 else f"Steps {named} were left out.") in page.words
    assert not any(f"Step {step} " in page.words.replace(f"Step {named} was", "") for step in left_out)
    table = handed_on(phone, page)
    found = read_off(table, 0)
    wanted = {step: density for step, density in in_reach().items() if step not in left_out}
    assert len(wanted) >= 12
    assert found.keys() >= wanted.keys()
    assert not found.keys() & set(left_out)
    for step, density in wanted.items():
        assert found[step] == pytest.approx(density, abs=0.05)
    written, wrong = replace(read_table_form(Typed(table.fields)), paper="Pearl").written()
    assert written is not None, wrong
    for each in written.exposures[0].readings:
        assert each.tablet_density == pytest.approx(TABLET[each.step - 1])


def test_what_is_left_out_is_not_marked(phone: ScanPhone) -> None:
    """The picture shows where each patch was read, and none where a step was passed over."""
    corners = {n.replace("-", "_"): at for n, at in CORNERS.items()}
    typed: dict[str, Any] = corners | {"seconds": "80", "left_out": ["4", "5"]}
    page = phone.bring(scanned(labels=(4, 5)))
    answer = phone.client.post("/papers/scan", data=of_form(page, do="read", **typed), headers={"Origin": ORIGIN})
    assert answer.text.count("<rect") == 2 * (20 + 21 - 2)  # the picture of the day, and the dim one


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"scale_last": ""}, "scale-last", "“Scale, last corner” is missing"),
        ({"print_first": "left"}, "print-first", "“left”"),
        ({"print_last": "5000 90"}, "print-first", "outside the picture"),
        ({"seconds": ""}, "seconds", "seconds"),
        ({"light": "filter"}, "filter", "filter"),
        ({"scale": "own", "scale_own": "0.05 x 1.9"}, "scale-own", "Patch 2"),
        ({"scale": "own", "scale_own": "0.05"}, "scale-own", "too few"),
        ({"tablet": "own", "tablet_own": "0.05 grey 0.3"}, "tablet-own", "“grey”"),
        ({"tablet": "own", "tablet_own": "0.05 - –"}, "tablet-own", "too few steps"),
        ({"left_out": [str(step) for step in range(2, 22)]}, "left-out", "too few steps"),
        ({"tablet": "own", "tablet_own": "0.05 - 0.3", "left_out": ["3"]}, "left-out", "too few steps"),
    ],
)
def test_what_is_wrong_is_told_at_its_field(phone: ScanPhone, typed: dict[str, Any], field: str, words: str) -> None:
    """One sentence at one field; what was typed, and the scan, are still there."""
    right = {n.replace("-", "_"): at for n, at in CORNERS.items()} | {"seconds": "80"}
    page = phone.press_here(phone.bring(scanned()), "read", 422, **(right | typed))
    assert list(page.told()) == [field]
    assert words in page.told()[field]
    assert page.ids.count("answer") == 1  # the page is scrolled to there
    fields = of_form(page)
    for name, value in (right | typed).items():
        assert fields[name.replace("_", "-")] == value
    assert phone.desk.scans().find(fields["scan"])


@pytest.mark.parametrize("strange", ["0", "22", "-1", "3 label", "٣", "x" * 300])
def test_a_tick_that_is_not_offered_leaves_nothing_out(phone: ScanPhone, strange: str) -> None:
    """Only the tablet's own steps can be ticked: any other word is none, and every step is read."""
    typed: dict[str, Any] = {n.replace("-", "_"): at for n, at in CORNERS.items()} | {"seconds": "80"}
    page = phone.press_here(phone.bring(scanned()), "read", **typed, left_out=[strange])
    assert "was left out" not in page.words
    assert "were left out" not in page.words
    assert read_off(handed_on(phone, page), 0).keys() >= in_reach().keys()


def test_every_step_of_the_tablet_can_be_ticked(phone: ScanPhone) -> None:
    """There is a tick for each step that the chosen tablet has, those that its list leaves out excepted."""
    page = phone.bring(scanned())
    for typed, steps in (({}, range(1, 22)), ({"tablet": "31"}, range(1, 32)), ({"tablet": "own"}, (1, 3))):
        own = {"tablet_own": "0.05 - 0.3"} if typed.get("tablet") == "own" else {}
        answer = phone.client.post("/papers/scan", data=of_form(page, **typed, **own), headers={"Origin": ORIGIN})
        ticks = re.findall(r'name="left-out" value="([0-9]+)"', answer.text)
        assert ticks == [str(step) for step in steps]


def test_a_scan_that_is_none_is_refused(phone: ScanPhone, tmp_path: Path) -> None:
    """No file, no picture, a damaged one, a huge one: a sentence at the file, and nothing is kept."""
    huge = io.BytesIO()
    Image.new("1", (30_000, 30_000)).save(huge, "PNG")
    wide = io.BytesIO()
    Image.new("1", (7_600, 8_000)).save(wide, "PNG")
    thread = io.BytesIO()
    Image.new("L", (1, 20_001)).save(thread, "PNG")
    lines = io.BytesIO()
    Image.new("1", (50, 50)).save(lines, "PNG")
    gif = io.BytesIO()
    Image.new("L", (50, 50)).save(gif, "GIF")
    for content, words in (
        (b"", "No file was chosen"),
        (b"%PDF-1.7 nothing", "no picture"),
        (scanned()[:400], "no picture"),
        (scanned(form="TIFF")[:300], "no picture"),
        (gif.getvalue(), "no picture"),
        (huge.getvalue(), "no picture"),
        (wide.getvalue(), "more than 60 million pixels"),
        (thread.getvalue(), "side of more than 20000 pixels"),
        (lines.getvalue(), "no greys"),
    ):
        page = phone.bring(content, status=422)
        assert words in page.told()["file"], page.told()
    assert not list((tmp_path / "scans").iterdir())


def test_a_bad_scan_leaves_the_good_one_and_is_told_where_it_was_chosen(phone: ScanPhone) -> None:
    """A second scan that is no picture is refused at its own field, which the page is scrolled to; the first stays."""
    page = phone.bring(scanned())
    source = dict(page.fields)["scan"]
    answer = phone.client.post(
        "/papers/scan",
        data=of_form(page) | {"do": "bring", "file": (io.BytesIO(b"none"), "none.png")},
        headers={"Origin": ORIGIN},
    )
    assert answer.status_code == 422
    assert "no picture" in Page(answer.text).told()["file"]
    assert answer.text.count('id="marking"') == 1
    assert answer.text.index('id="marking"') > answer.text.index("</form>")
    assert dict(Page(answer.text).fields)["scan"] == source


def test_a_scan_like_a_thread_is_shown_small(phone: ScanPhone) -> None:
    """However narrow a scan is, its picture is no taller than is shown, and a tap still means what it shows."""
    thread = io.BytesIO()
    Image.new("L", (20, 20_000), 128).save(thread, "PNG")
    page = phone.bring(thread.getvalue())
    source = dict(page.fields)["scan"]
    with Image.open(io.BytesIO(phone.client.get(f"/papers/scan/{source}/day.png?zoom=3").data)) as picture:
        assert picture.size == (4, 3600)
    page = phone.press_here(page, "", **{"day.x": "0", "day.y": "600"})
    assert dict(page.fields)["scale-first"] == "10 10008"


def test_scans_go_after_an_hour_and_are_few(phone: ScanPhone, desk: StandInDesk, tmp_path: Path) -> None:
    """The fourth scan throws the first away; after an hour all are gone from the folder, said when asked for."""
    pages = [phone.bring(scanned()) for _ in range(MOST_SCANS + 1)]
    assert len(list((tmp_path / "scans").glob("*-day.png"))) == MOST_SCANS
    phone.press_here(pages[0], "read", 404)
    desk.clock_ns += KEPT_NS
    desk.say_day()
    page = phone.press_here(pages[-1], "read", 404)
    assert "Bring it in again" in page.words
    assert not list((tmp_path / "scans").iterdir())


def test_only_a_large_scan_may_be_large(phone: ScanPhone) -> None:
    """Three megabytes come in here, and are refused by every other page."""
    picture = io.BytesIO()
    Image.fromarray(np.random.default_rng(1).integers(0, 255, (1500, 2000), dtype=np.uint8)).save(picture, "PNG")
    assert len(picture.getvalue()) > 2_500_000
    picture.seek(0)
    page = Page(phone.client.get("/papers/scan").text)
    where, body = encode_multipart(dict(page.fields) | {"do": "bring", "file": FileStorage(picture, "large.png")})
    sent = {"data": body, "content_type": f"multipart/form-data; boundary={where}", "headers": {"Origin": ORIGIN}}
    page = Page(phone.client.post("/papers/scan", **sent).text)
    assert "2000 × 1500 pixels" in page.words
    picture.seek(0)
    where, body = encode_multipart(dict(page.fields) | {"file": FileStorage(picture, "big.csv")})
    sent = {"data": body, "content_type": f"multipart/form-data; boundary={where}", "headers": {"Origin": ORIGIN}}
    assert phone.client.post("/papers/csv", **sent).status_code == 413


def test_nothing_of_it_in_the_dark(phone: ScanPhone, desk: StandInDesk) -> None:
    """In the dark neither the page nor the picture is given, and nothing can be brought or read."""
    page = phone.bring(scanned())
    source = dict(page.fields)["scan"]
    desk.show(day_until_ns=None)
    for address in ("/papers/scan", f"/papers/scan/{source}/day.png", f"/papers/scan/{source}/dark.png"):
        answer = phone.client.get(address)
        assert answer.status_code == 409
        assert answer.mimetype == "text/html"
    phone.press_here(page, "read", 409)
    phone.bring(scanned(), status=409, page=page)


def test_the_picture_of_a_page_without_scripts_is_dim(phone: ScanPhone) -> None:
    """A page that has to stay dark shows the scan in reds no brighter than its words, and may fetch only our own."""
    source = dict(phone.bring(scanned()).fields)["scan"]
    with Image.open(io.BytesIO(phone.client.get(f"/papers/scan/{source}/dark.png").data)) as picture:
        assert picture.size[0] == 280
        assert [most for _, most in picture.getextrema()] == [pytest.approx(0x4B, abs=0x10), 0, 0]
    policy = phone.client.get("/papers/scan").headers["Content-Security-Policy"]
    assert "img-src 'self'" in policy
    assert "img-src" not in phone.client.get("/papers").headers["Content-Security-Policy"]


@pytest.mark.usefixtures("by_real_time")
def test_on_the_real_darkroom(tmp_path: Path) -> None:
    """The real darkroom takes a scan into its data folder, reads it, and has thrown it away once it is closed."""
    with bench(tmp_path) as evening:
        evening.do(acts.PaperAway())
        client = create_app(evening.desk, hosts=["localhost"]).test_client()
        code = evening.desk.pairing().new_code()
        assert client.post("/pair", data={"code": code}, headers={"Origin": ORIGIN}).status_code == 303
        page = bring(client, scanned())
        assert list((tmp_path / "data" / "scans").iterdir())
        fields = of_form(page, do="read", seconds="80", **{n.replace("-", "_"): at for n, at in CORNERS.items()})
        answer = client.post("/papers/scan", data=fields, headers={"Origin": ORIGIN})
        assert answer.status_code == 200
        assert "steps could be read" in Page(answer.text).words
    assert not (tmp_path / "data" / "scans").exists()
