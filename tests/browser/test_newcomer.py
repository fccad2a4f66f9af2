"""The tutorial, walked by a newcomer with nothing but its own words: what it prints bold is what is touched.

One walks the first evening on a phone; in the long tests another walks at the same time on a laptop, each in a darkroom
of its own. The second evening leads from a contact sheet to the print that is kept; the taps and presses that a printer
needs for it are counted. Time flies in both: nothing here is judged by moments.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, Request
from tools.walk import HURRIED, ROOT, ServedShelf

from controller.store.database import read_store
from controller.store.entries import SheetPlanned
from controller.store.folder import DataFolder
from controller.store.rows import Reader
from controller.store.schemas import JOURNAL

FIRST, SECOND = (ROOT / "docs" / "tutorial" / f"{name}.md" for name in ("first-sheet", "a-negative"))
TIMES = {"twice": 2, "three times": 3, "five times": 5, "seven times": 7}
LAPTOP, PHONE = (1280, 800), (390, 844)
LONGEST_S = 60.0
STRIP_AT_MOST, SHEET_AT_MOST = 20, 18
"""Actions: a tap, a press of the foot, a hold; opening the link counts as one."""
NEGATIVE_TAPS, NEGATIVE_PRESSES = 12, 29
"""At most, from the contact sheet to the closed print."""
HANDS = frozenset({"soft", "hard", "practice", "Develop it", "back to the enlarger"})
"""Taps that stand for hands, or for walking over to the enlarger: with a real one there are none."""
QUICK = {"format": "treadle/settings/1", "lead_in_seconds": 1.2, "settle_seconds": 1.0}
IN_VIEW = """(one) => {
  if (!one.isConnected || !one.getClientRects().length) return null;
  const box = one.getBoundingClientRect(), x = box.left + box.width / 2, y = box.top + box.height / 2;
  const top = document.elementFromPoint(x, y);
  const seen = box.top >= 0 && box.left >= 0 && box.bottom <= innerHeight && box.right <= innerWidth;
  const itself = top !== null && (one.contains(top) || top.contains(one));
  const bare = one.matches("text") ? top !== null && top.closest("a") !== null : itself;
  return {x, y, seen, bare, scrolled: scrollY};
}"""
TO_THE_MIDDLE = "(one) => one.scrollIntoView({block: 'center'})"


@dataclass(frozen=True)
class Told:
    """One thing that the tutorial says to touch."""

    words: str
    part: str


def told(tutorial: Path) -> Iterator[Told]:
    """Give what a tutorial prints bold, in order, as often as it says."""
    text = tutorial.read_text(encoding="utf-8")
    part = ""
    for found in re.finditer(
        r"^## (?P<part>.+)$|\*\*(?P<words>[^*]+)\*\*(?:\s+(?P<times>[a-z]+(?:\s+times)?))?", text, re.M
    ):
        if found["part"]:
            part = found["part"]
        elif part:
            times = TIMES.get(" ".join((found["times"] or "").split()), 1)
            yield from [Told(found["words"], part)] * times


class Newcomer:
    """Touches what is in view, and counts. There is no way to type: a form that asks for words stops the walk."""

    def __init__(self, page: Page, link: str, *, times: int = 1, scrolls: bool = False) -> None:
        """So many seconds go by in one; who `scrolls` looks for what is not in view, with a thumb on the page."""
        self.page = page
        self.actions = {"Begin": 1}
        self._times, self._scrolls = times, scrolls
        self._obeyed = ""
        self._asked: set[Request] = set()
        page.on(
            "request",
            lambda asked: None if "/live" in asked.url or asked.url.endswith("/contact") else self._asked.add(asked),
        )
        page.on("requestfinished", lambda asked: self._asked.discard(asked))
        page.on("requestfailed", lambda asked: self._asked.discard(asked))
        page.goto(link)

    def do(self, one: Told) -> None:
        """Do one thing that the tutorial says, once the page has come to it."""
        self.actions[one.part] = self.actions.get(one.part, 0) + 1
        match one.words.lower():
            case "press":
                self._wait_for("pedal")
                self._tread(0.15)
            case "hold":
                self._wait_for("hold")
                self._tread(1.0)
            case _:
                self._tap(one.words)

    def arrive(self) -> None:
        """Mark the page, which must stay the same to the end."""
        self.page.wait_for_url("**/practice")
        self.page.evaluate("window.stays = true")

    def stayed(self) -> bool:
        """Tell whether it is still the page that was arrived at."""
        return bool(self.page.evaluate("window.stays === true"))

    def sees_a_print(self) -> None:
        """Wait until what was developed lies in the tray."""
        self.page.locator(".in-tray image, .in-tray img").wait_for(timeout=LONGEST_S * 1000)

    def _wait_for(self, touch: str) -> None:
        """Wait until the page asks for it in words that are new, and until a press is heard again after a light."""
        asked = self.page.locator(f"[data-touch={touch}] .lead-words")
        end = time.monotonic() + LONGEST_S
        while not asked.count() or (words := asked.first.inner_text()) == self._obeyed:
            assert time.monotonic() < end, f"not asked for: {touch}; {self.page.inner_text('[data-lead]')!r}"
            self.page.wait_for_timeout(50)
        self._obeyed = words
        self.page.wait_for_timeout(800 / self._times)

    def _tread(self, seconds: float) -> None:
        x, y = self._in_view(self.page.locator(".treadle"), "the foot switch")
        self.page.mouse.move(x, y)
        self.page.mouse.down()
        self.page.wait_for_timeout(seconds * 1000 / self._times)
        self.page.mouse.up()

    def _tap(self, words: str) -> None:
        exactly = re.compile(rf"^\s*{re.escape(words)}\s*$")
        begins = re.compile(rf"^\s*{re.escape(words)}")
        # words lie over their link; a filter is put in when it is asked for, and not into the light before
        controls = self.page.locator("button:visible, a:visible, summary:visible, svg.print text:visible")
        chips = self.page.locator(f".rack button[value='{words}']:not([data-wanted])")
        end = time.monotonic() + LONGEST_S
        while time.monotonic() < end:
            for pattern in (exactly, begins):
                found = controls.filter(has_text=pattern)
                if found.count() and not chips.count():
                    if self._scrolls:
                        found.first.evaluate(TO_THE_MIDDLE)
                    x, y = self._in_view(found.first, words)
                    self.page.mouse.click(x, y)
                    return self._see_what_comes()
            self.page.wait_for_timeout(50)
        raise AssertionError(f"nothing to touch says “{words}”: {self.page.url} {self.page.inner_text('main')!r}")

    def _see_what_comes(self) -> None:
        """Wait until the page has answered: whoever taps on before is not understood."""
        self.page.wait_for_timeout(150)
        end = time.monotonic() + LONGEST_S
        while self._asked:
            assert time.monotonic() < end, [asked.url for asked in self._asked]
            self.page.wait_for_timeout(50)

    def _in_view(self, found: Locator, words: str) -> tuple[float, float]:
        self.page.wait_for_timeout(150)
        end = time.monotonic() + LONGEST_S
        while (at := found.evaluate(IN_VIEW)) is None:  # the page was painted anew meanwhile: it is looked for again
            assert time.monotonic() < end, f"“{words}” is not there"
            self.page.wait_for_timeout(50)
        size = self.page.viewport_size
        assert at["seen"], f"“{words}” is not in view at {size}: {at}"
        assert at["bare"], f"“{words}” is covered at {size}: {at}"
        assert at["scrolled"] == 0 or self._scrolls, f"the page was scrolled before “{words}” at {size}"
        return at["x"], at["y"]


@pytest.mark.browser
@pytest.mark.parametrize(
    "sizes",
    [
        pytest.param((PHONE,), id="phone"),
        pytest.param((LAPTOP, PHONE), id="laptop and phone", marks=pytest.mark.long),
    ],
)
def test_the_tutorial_is_walked_by_its_own_words(
    browser: Browser, tmp_path: Path, sizes: tuple[tuple[int, int], ...]
) -> None:
    """A strip in 20 actions and a split-grade sheet in 18, all in view, no page loaded anew, each print developed."""
    folders = [tmp_path / str(width) for width, _ in sizes]
    for folder in folders:
        folder.mkdir()
    darkrooms = [ServedShelf(folder, samples=True, hurried=True) for folder in folders]
    contexts = [browser.new_context(viewport={"width": width, "height": height}) for width, height in sizes]
    try:
        walkers = [
            Newcomer(context.new_page(), darkroom.link, times=HURRIED)
            for context, darkroom in zip(contexts, darkrooms, strict=True)
        ]
        steps = list(told(FIRST))
        assert len(steps) > 25, "the tutorial says hardly anything to touch"
        for number, one in enumerate(steps):
            for walker in walkers:
                walker.do(one)
            if one.words.startswith("done") and one.part == "Begin":
                for walker in walkers:
                    walker.arrive()
            if one.words == "Develop it":
                for walker in walkers:
                    walker.sees_a_print()
            if one.words == "Develop it" and steps[number - 1].words.lower() == "hold" and number > 20:
                for walker in walkers:
                    assert walker.page.locator(".in-tray a").count() == 0, "a print has no bands"
        for walker in walkers:
            assert walker.stayed()
            strip = (
                walker.actions["Begin"]
                + [one.words for one in steps if one.part == "A strip"].index("Print from it")
                + 1
            )
            assert strip <= STRIP_AT_MOST, strip
            assert walker.actions["A split-grade sheet"] <= SHEET_AT_MOST, walker.actions
            base = walker.page.url.removesuffix("/practice")
            records = walker.page.request.get(f"{base}/sheets").text()
            assert records.count('href="/sheets/') == 3
        for darkroom in darkrooms:
            assert darkroom.errors.read_text(encoding="utf-8") == ""
    finally:
        for context in contexts:
            context.close()
        for darkroom in darkrooms:
            darkroom.close()


def quick(folder: Path) -> None:
    """Have a darkroom's shortest lead-in and settling in force before it is served."""
    settings = folder / "settings.json"
    settings.write_text(json.dumps(QUICK), encoding="utf-8")
    bring = [sys.executable, "treadle.py", "import", str(settings), "--simulate", "--data", str(folder / "data")]
    subprocess.run(bring, check=True, cwd=ROOT, stdout=subprocess.DEVNULL)


@pytest.mark.browser
def test_the_second_evening_leads_from_a_negative_to_its_print(browser: Browser, tmp_path: Path) -> None:
    """Put in, both strips, two prints, and the better one kept: few taps, no time typed, every light as it was picked.

    The first print has the picked times in one recipe, and what was said of it changes the second.
    """
    quick(tmp_path)
    darkroom = ServedShelf(tmp_path, samples=True, hurried=True)
    context = browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
    try:
        walker = Newcomer(context.new_page(), darkroom.link, times=HURRIED, scrolls=True)
        steps = list(told(SECOND))
        for one in steps:
            walker.do(one)
            if one.words == "Develop it":
                walker.sees_a_print()

        words = [one.words for one in steps]
        counted = words[words.index("boat slip") : words.index("How did sheet 3 look?")]
        presses = [word for word in counted if word.lower() in ("press", "hold")]
        taps = [word for word in counted if word not in HANDS and word not in presses]
        assert len(taps) <= NEGATIVE_TAPS, taps
        assert len(presses) <= NEGATIVE_PRESSES, len(presses)

        journal = DataFolder(tmp_path / "data").journal
        with Reader(read_store(journal, JOURNAL), journal, None) as rows:
            sheets = [row.entry for row in rows.rows(kinds=("planned",)) if isinstance(row.entry, SheetPlanned)]
            kept = [row.sheet for row in rows.rows(kinds=("reference print",))]
        assert [sheet.plan.kind for sheet in sheets] == ["strip", "strip", "recipe", "recipe"]
        times = [[(step.filter, step.planned_ms) for step in sheet.plan.steps] for sheet in sheets[2:]]
        assert times[0] == [("soft", 8500), ("hard", 5700)], "both picks are in one recipe, and it is printed"
        assert times[1][1][1] > 5700, "blacks that were a little light get more of the hard light"
        assert sheets[3].plan.source == sheets[2].plan.source
        assert kept == [sheets[3].sheet]
    finally:
        context.close()
        darkroom.close()
    assert darkroom.errors.read_text(encoding="utf-8") == ""
