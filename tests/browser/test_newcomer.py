"""The tutorial, walked by a newcomer with nothing but its own words: what it prints bold is what is touched.

One walks it on a phone; in the long tests another walks at the same time on a laptop, each in a darkroom of its own.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from tools.walk import ServedShelf

TUTORIAL = Path(__file__).resolve().parents[2] / "docs" / "tutorial" / "first-sheet.md"
TIMES = {"twice": 2, "three times": 3, "seven times": 7}
LAPTOP, PHONE = (1280, 800), (390, 844)
LONGEST_S = 60.0
STRIP_AT_MOST, SHEET_AT_MOST = 20, 18
"""Actions: a tap, a press of the foot, a hold; opening the link counts as one."""
IN_VIEW = """(one) => {
  const box = one.getBoundingClientRect(), x = box.left + box.width / 2, y = box.top + box.height / 2;
  const top = document.elementFromPoint(x, y);
  const seen = box.top >= 0 && box.left >= 0 && box.bottom <= innerHeight && box.right <= innerWidth;
  const itself = top !== null && (one.contains(top) || top.contains(one));
  const bare = one.matches("text") ? top !== null && top.closest("a") !== null : itself;
  return {x, y, seen, bare, scrolled: scrollY};
}"""


@dataclass(frozen=True)
class Told:
    """One thing that the tutorial says to touch."""

    words: str
    part: str


def told() -> Iterator[Told]:
    """Give what the tutorial prints bold, in order, as often as it says."""
    text = TUTORIAL.read_text(encoding="utf-8")
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
    """Touches what is in view, and counts."""

    def __init__(self, page: Page, link: str) -> None:
        self.page = page
        self.actions = {"Begin": 1}
        self._obeyed = ""
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

    def _wait_for(self, touch: str) -> None:
        """Wait until the page asks for it in words that are new, and until a press is heard again after a light."""
        asked = self.page.locator(f"[data-touch={touch}] .lead-words")
        end = time.monotonic() + LONGEST_S
        while not asked.count() or (words := asked.first.inner_text()) == self._obeyed:
            assert time.monotonic() < end, f"not asked for: {touch}; {self.page.inner_text('[data-lead]')!r}"
            self.page.wait_for_timeout(50)
        self._obeyed = words
        self.page.wait_for_timeout(800)

    def _tread(self, seconds: float) -> None:
        x, y = self._in_view(self.page.locator(".treadle"), "the foot switch")
        self.page.mouse.move(x, y)
        self.page.mouse.down()
        self.page.wait_for_timeout(seconds * 1000)
        self.page.mouse.up()

    def _tap(self, words: str) -> None:
        exactly = re.compile(rf"^\s*{re.escape(words)}\s*$")
        begins = re.compile(rf"^\s*{re.escape(words)}")
        controls = self.page.locator("button:visible, a:visible, svg.print text:visible")  # words lie over their link
        end = time.monotonic() + LONGEST_S
        while time.monotonic() < end:
            for pattern in (exactly, begins):
                found = controls.filter(has_text=pattern)
                if found.count():
                    x, y = self._in_view(found.first, words)
                    self.page.mouse.click(x, y)
                    return
            self.page.wait_for_timeout(50)
        raise AssertionError(f"nothing to touch says “{words}”")

    def _in_view(self, found: object, words: str) -> tuple[float, float]:
        self.page.wait_for_timeout(150)
        at = found.evaluate(IN_VIEW)  # type: ignore[attr-defined]
        size = self.page.viewport_size
        assert at["seen"], f"“{words}” is not in view at {size}: {at}"
        assert at["bare"], f"“{words}” is covered at {size}: {at}"
        assert at["scrolled"] == 0, f"the page was scrolled before “{words}” at {size}"
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
    darkrooms = [ServedShelf(folder, samples=True) for folder in folders]
    contexts = [browser.new_context(viewport={"width": width, "height": height}) for width, height in sizes]
    try:
        walkers = [
            Newcomer(context.new_page(), darkroom.link) for context, darkroom in zip(contexts, darkrooms, strict=True)
        ]
        steps = list(told())
        assert len(steps) > 25, "the tutorial says hardly anything to touch"
        for number, one in enumerate(steps):
            for walker in walkers:
                walker.do(one)
            if one.words.startswith("done") and one.part == "Begin":
                for walker in walkers:
                    walker.arrive()
            if one.words == "Develop it":
                for walker in walkers:
                    picture = walker.page.locator(".in-tray image, .in-tray img")
                    picture.wait_for(timeout=LONGEST_S * 1000)
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
