"""The first print from readings, in a real Chromium: from the negative in the carrier to the closed print, no strip.

The taps of the phone and the presses of the foot are counted, each by what is in view. What hands do at the easel and
at the drawer is touched on the practice page beside it, and counts as neither.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page
from tools.fitted_papers import demo
from tools.probe_places import even_place
from tools.walk import ROOT, ServedShelf

from controller.paper.paper import Setup, write_paper
from controller.picture.scene import negatives_named
from controller.practice.board import bare_scene
from controller.practice.in_carrier import InCarrier
from controller.practice.practice_scene import PracticeScene
from controller.store.database import read_store
from controller.store.easel_rows import SpotRead
from controller.store.entries import SheetPlanned
from controller.store.folder import DataFolder
from controller.store.rows import Reader
from controller.store.schemas import JOURNAL
from controller.words import say
from hardware.practice.practice_darkroom import PracticeDarkroom

PHONE = {"width": 390, "height": 844}
SETTINGS = {
    "format": "treadle/settings/1",
    "lead_in_seconds": 1.2,
    "settle_seconds": 1.0,
    "light_sensor": "tsl2591",
    "safe_minutes": 5,
}
TAPS, PRESSES = 4, 11
"""At most, from the negative in the carrier to the closed print."""
LONGEST_S = 40.0
STANDS = {"head-height": "620", "aperture": "8", "magnification": "2"}
TONES = {"highlight": 1.25, "shadow": 0.35}
FRAME = "/negatives/practice-sheets/frame/1"


class Printer:
    """A phone in the hand and a foot on the switch: touches what is in view alone, and counts."""

    def __init__(self, phone: Page, bench: Page) -> None:
        self.phone, self.bench = phone, bench
        self.taps: list[str] = []
        self.presses = 0

    def tap(self, words: str) -> None:
        """Tap the first thing in view on the phone that begins so."""
        self._tap(self.phone, words)
        self.taps.append(words)

    def hands(self, words: str) -> None:
        """Touch something of the darkroom itself."""
        self._tap(self.bench, words)

    def lay(self, x: float, y: float) -> None:
        """Lay the probe where a tone falls."""
        self.bench.bring_to_front()
        picture = self.bench.locator("#probe input[type=image]")
        picture.wait_for()
        picture.scroll_into_view_if_needed()
        box = picture.bounding_box()
        assert box is not None
        with self.bench.expect_navigation():
            self.bench.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])

    def press(self, *, then: str, seconds: float = 0.15) -> None:
        """Press the foot switch, and wait until the darkroom stands at `then`."""
        self.bench.bring_to_front()
        self._tread(seconds)
        self.until(then)

    def _tread(self, seconds: float) -> None:
        self.bench.wait_for_timeout(800)  # a press right after a light starts nothing
        self.bench.locator(".treadle").scroll_into_view_if_needed()
        self.bench.hover(".treadle")
        self.bench.mouse.down()
        self.bench.wait_for_timeout(seconds * 1000)
        self.bench.mouse.up()
        self.presses += 1

    def reads_nothing_to_type(self) -> bool:
        """Tell whether the page in the hand has no field for words or figures."""
        typed = "main input:visible:not([type=hidden]):not([type=image]):not([type=radio]), main textarea:visible"
        return self.phone.locator(typed).count() == 0

    def print_it(self) -> None:
        """Do what the practice page asks for, until the sheet is closed and goes into the developer."""
        self.until("change filter")
        self.bench.goto("/practice")
        self.bench.bring_to_front()
        lead = self.bench.locator("[data-lead] .lead-now")
        obeyed, end = "", time.monotonic() + 2 * LONGEST_S
        while (touch := lead.get_attribute("data-touch")) != "trays":
            words = lead.locator(".lead-words").inner_text()
            assert time.monotonic() < end, words
            if touch and words != obeyed:
                obeyed = words
                assert touch in ("drawer", "pedal", "hold"), words
                if touch == "drawer":
                    self.bench.locator(".rack button[data-wanted]").click()
                else:
                    self._tread(1.0 if touch == "hold" else 0.15)
            self.bench.wait_for_timeout(100)

    def until(self, *places: str) -> None:
        end = time.monotonic() + LONGEST_S
        while (now := self.bench.request.get("/status.json").json()["place"]) not in places:
            assert time.monotonic() < end, f"stands at {now!r}, not at {places!r}"
            time.sleep(0.05)

    def _tap(self, page: Page, words: str) -> None:
        page.bring_to_front()
        self._seen(page, words).click()  # it waits for what is in view, though the page follows the foot meanwhile
        page.wait_for_load_state()
        page.wait_for_timeout(300)

    def _seen(self, page: Page, words: str) -> Locator:
        controls = page.locator("button:visible, a:visible, summary:visible")
        found = controls.filter(has_text=re.compile(rf"^\s*{re.escape(words)}")).first
        found.wait_for(timeout=LONGEST_S * 1000)
        return found


def _spot(printer: Printer, place: tuple[float, float], then: str = "ready") -> None:
    """Press for light, lay the probe, wait as the page says, press; then the dark is counted."""
    printer.press(then="light")
    printer.lay(*place)
    printer.bench.wait_for_timeout(2300)
    printer.press(then=then)
    printer.bench.wait_for_timeout(2000)


def _at_the_enlarger(printer: Printer, room: PracticeDarkroom) -> None:
    """Prepare what stands before: a calibrated paper out, the set-up, and this box's reference, measured by foot."""
    phone = printer.phone
    phone.goto("/enlarger/paper")
    printer.tap("paper one")
    phone.goto("/enlarger/set-up")
    for name, value in STANDS.items():
        phone.fill(f"input[name='{name}']:visible", value)
    printer.tap(say("enlarger.set-up-keep"))
    room.log_filter("soft")
    room.log_negative(False)
    phone.goto("/easel")
    printer.tap(say("easel.reference-measure", filter="soft"))
    printer.bench.goto("/practice")
    _spot(printer, (0.5, 0.5), then="finished")
    printer.press(then="nothing chosen", seconds=1.0)
    printer.tap(say("easel.reference-keep"))
    room.log_negative(True)


@pytest.mark.browser
def test_a_negative_is_printed_without_a_strip(browser: Browser, tmp_path: Path) -> None:
    """Read, used, printed: at most four taps, nothing typed, eleven presses; both lights as the readings said."""
    (tmp_path / "settings.json").write_text(json.dumps(SETTINGS), encoding="utf-8")
    paper = demo().model_copy(update={"name": "paper one", "setup": Setup(magnification=2.0, aperture=8.0)})
    (tmp_path / "paper.json").write_text(write_paper(paper), encoding="utf-8")
    data = ["--simulate", "--data", str(tmp_path / "data")]
    for name in ("settings.json", "paper.json"):
        command = [sys.executable, "treadle.py", "import", str(tmp_path / name), *data]
        subprocess.run(command, check=True, cwd=ROOT, stdout=subprocess.DEVNULL)
    scene = bare_scene(
        negatives_named("crane"), PracticeScene(), InCarrier(name="crane", magnification=2.0, aperture=8.0)
    )
    places = {name: even_place(scene, tone)[:2] for name, tone in TONES.items()}
    darkroom = ServedShelf(tmp_path, samples=True)
    context = browser.new_context(viewport=PHONE, base_url=f"http://127.0.0.1:{darkroom.port}")  # type: ignore[arg-type]
    context.set_default_timeout(LONGEST_S * 1000)
    try:
        phone = context.new_page()
        phone.goto(darkroom.link)
        printer = Printer(phone, context.new_page())
        for words in ("pair", "done"):
            printer.tap(words)
        phone.goto("/")
        for words in ("paper is away", "all paper is away"):
            printer.tap(words)
        with PracticeDarkroom(tmp_path / "data" / "run") as room:
            _at_the_enlarger(printer, room)
        phone.goto(FRAME)
        printer.taps.clear()
        printer.presses = 0

        printer.tap(say("negatives.put-in"))
        printer.tap(say("page.next-readings"))
        printer.bench.goto("/practice")
        for name in TONES:
            _spot(printer, places[name])
        printer.press(then="nothing chosen", seconds=1.0)
        phone.bring_to_front()
        pair = phone.locator("#pair .answer b")
        pair.first.wait_for()
        assert printer.reads_nothing_to_type()
        promised = [float(pair.nth(n).inner_text()) for n in (0, 1)]
        flags = phone.locator("#pair svg text").all_text_contents()
        assert {"h", "s"} <= set(flags), f"a flag for each spot lies on the curve: {flags}"
        printer.tap(say("easel.use"))
        printer.print_it()
        print(f"{len(printer.taps)} taps {printer.taps}, {printer.presses} presses")
        assert len(printer.taps) <= TAPS, printer.taps
        assert printer.presses <= PRESSES
        journal = DataFolder(tmp_path / "data").journal
        with Reader(read_store(journal, JOURNAL), journal, None) as rows:
            plans = [row.entry.plan for row in rows.rows(kinds=("planned",)) if isinstance(row.entry, SheetPlanned)]
            spots = [row.entry for row in rows.rows(kinds=("read",)) if isinstance(row.entry, SpotRead)]
            closed = [row.entry for row in rows.rows(kinds=("closed",))]
        assert [plan.kind for plan in plans] == ["recipe"], "the first sheet of this negative is its print"
        assert [(step.filter, step.planned_ms / 1000) for step in plans[0].steps] == [
            ("soft", promised[0]),
            ("hard", promised[1]),
        ]
        assert [spot.spot for spot in spots if spot.what == "spots"] == list(TONES)
        assert len(closed) == 1
    finally:
        context.close()
        darkroom.close()
