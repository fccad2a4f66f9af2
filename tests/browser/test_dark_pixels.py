"""Every control of every dark page is pressed with nothing chosen, and every pixel that comes of it is red, and dim."""

from __future__ import annotations

import io
import itertools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Error, Page
from tools.browser import Pixels, is_dark, let_in, look
from tools.stand_in_desk import KEY, PLAN, StandInDesk, next_step, step_lines

from controller.foot.status import Doubt
from controller.words import say
from webui.app import create_app
from webui.frame.red import LEVELS, cookie_name
from webui.server import Server

pytestmark = pytest.mark.browser

OPEN: dict[str, Any] = {
    "plan": PLAN,
    "next": next_step(2),
    "steps": step_lines(),
    "sheet": "s1",
    "sheet_number": 5,
    "open": True,
    "place": "ready",
    "headline": "Press when ready.",
    "just_given": "Given: soft base, 10.1 s.",
    "safe_left_s": 190,
    "day_until_ns": None,
    "day_refused": "Sheet 5 is open. Hold to close it.",
    "can": ("start", "call given", "leave out", "more burn", "no light", "close", "assume"),
    "doubt": Doubt(light="l1", step=2, least_ms=2100, most_ms=4600),
    "troubles": ("No sounder answers: the lead-in is 4 s.",),
    "stop_possible": False,
    "lit": None,
}
BETWEEN: dict[str, Any] = {
    **OPEN,
    "plan": None,
    "next": None,
    "steps": (),
    "sheet": "",
    "open": False,
    "place": "nothing chosen",
    "headline": "Choose on the page.",
    "just_given": "",
    "day_refused": "",
    "can": ("load", "put down", "paper away", "room light off"),
    "doubt": None,
    "troubles": (),
}
PAGES = ("/sheets/s1", "/phone", "/settings", "/pair", "/choose", "/sheets", "/shelf", "/nowhere", "/health")
NO_PAGES = ("/now", "/status.json?part=now", "/live?part=now", "/manifest.webmanifest", "/practice/board.png")
BY_DAY = ("/settings", "/phone", "/practice", "/shelf/new/recipe", "/shelf/new/strip", "/papers/new", "/papers/scan")
"""Pages with fields of every kind; without scripts they stay dark in the lit room, too."""
CONTROLS = "button, summary, a[href], label, select, textarea, input:not([type=hidden])"
NOT_PRESSED = {f"BUTTON   {say('page.red-bright')}"}
"""What takes a practice darkroom's page out of the dark, as it says."""
PREPARE = """(controls) => {
  document.querySelectorAll('details').forEach((fold) => { fold.name = ''; fold.open = true; });
  document.querySelectorAll('input[type=radio], input[type=checkbox]').forEach((one) => { one.checked = false; });
  document.querySelectorAll('input, textarea').forEach((one) => {
    if (!['hidden', 'radio', 'checkbox', 'file'].includes(one.type)) one.value = '';
  });
  return [...document.querySelectorAll(controls)].map((one) => {
    const box = one.getBoundingClientRect();
    const seen = one.checkVisibility({visibilityProperty: true}) && box.width > 1 && box.height > 1;
    return seen ? `${one.tagName} ${one.name || ''} ${one.value || ''} ${one.textContent.trim()}` : '';
  });
}"""


@dataclass(frozen=True)
class Night:
    """One way of sitting in the dark."""

    theme: str
    scripts: bool
    practice: bool
    level: int

    @property
    def name(self) -> str:
        """What it is called among the tests."""
        kind = "practice" if self.practice else "real"
        return f"{self.theme}-{'scripts' if self.scripts else 'bare'}-{kind}-{self.level}"


NIGHTS = tuple(
    Night(theme, scripts, practice, level)
    for theme, scripts, practice, level in itertools.product(
        ("light", "dark"), (True, False), (True, False), (1, LEVELS[-1].number)
    )
)
SHORT = (Night("light", True, True, 1), Night("light", False, False, 1))
"""Both kinds of darkroom, with and without scripts, in the theme that is worse: the light one."""


@pytest.mark.parametrize(
    "night", [pytest.param(one, id=one.name, marks=() if one in SHORT else pytest.mark.long) for one in NIGHTS]
)
def test_nothing_white_comes_out_of_the_dark(
    whole_browser: Browser, real_desk: Callable[[bool], Any], night: Night
) -> None:
    """Whatever is pressed, the browser's own bubbles and lists included: no green, no blue, no red over the ink."""
    desk, base = real_desk(night.practice)
    context = whole_browser.new_context(
        viewport={"width": 390, "height": 844},
        base_url=base,
        color_scheme=night.theme,
        java_script_enabled=night.scripts,
    )
    context.set_default_timeout(20_000)
    try:
        page = context.new_page()
        let_in(context, base)
        red = {"name": cookie_name(KEY), "value": str(night.level), "url": base}
        walk = Walk(page, desk, lambda: context.add_cookies([red]))  # type: ignore[list-item]
        walk.through("/", OPEN)
        walk.through("/", BETWEEN)
        if night.practice:
            walk.through("/practice", BETWEEN)
        for address in PAGES if night != SHORT[1] else PAGES[:4]:
            walk.through(address, BETWEEN)
        for address in NO_PAGES:
            walk.look_at(address)
        if not night.scripts:
            for address in BY_DAY if night not in SHORT else BY_DAY[:1]:
                walk.through(address, BETWEEN, day=True)
        assert walk.pressed >= 60, "the walk has found hardly anything to press"
        assert walk.bright == []
    finally:
        context.close()


class Walk:
    """Presses its way through pages, and notes where anything but dim red is seen."""

    def __init__(self, page: Page, desk: StandInDesk, stand: Callable[[], None]) -> None:
        self._page, self._desk, self._begin = page, desk, stand
        self._everywhere: set[str] = set()
        self._number = 0
        self.pressed = 0
        self.bright: list[str] = []

    def through(self, address: str, state: dict[str, Any], *, day: bool = False) -> None:
        """Press each control of a page once; a way that leads from every page is gone once."""
        done: set[str] = set()
        while True:
            shown = self._stand(address, state, day=day)
            while left := [one for one in shown if one and one not in done | self._everywhere | NOT_PRESSED]:
                (self._everywhere if left[0].startswith("A ") else done).add(left[0])
                self._press(shown.index(left[0]), f"{address}: {left[0]}")
                if not self._page.url.endswith(address) or self._desk.status().number != self._number:
                    break
                shown = self._page.evaluate(PREPARE, CONTROLS)
            else:
                return

    def look_at(self, address: str) -> None:
        """Open what is no page of its own as if it were one."""
        self._page.goto(address)
        self._see(address)

    def _stand(self, address: str, state: dict[str, Any], *, day: bool) -> list[str]:
        self._begin()
        self._desk.show(**state)
        if day:
            self._desk.say_day()
        self._page.goto(address)
        self._number = self._desk.status().number
        shown: list[str] = self._page.evaluate(PREPARE, CONTROLS)
        self._see(address)
        return shown

    def _press(self, at: int, where: str) -> None:
        self._page.locator(CONTROLS).nth(at).click(force=True, no_wait_after=True)
        self.pressed += 1
        self._page.wait_for_timeout(60)
        self._see(where)
        self._page.keyboard.press("Escape")  # an open list of choices would lie over the next control

    def _see(self, where: str) -> None:
        for _ in range(5):
            try:
                pixels = self._look()
                level = self._page.get_attribute("html", "data-red")
                break
            except Error:  # asked for in the middle of going to another page
                self._page.wait_for_timeout(100)
        ink = LEVELS[int(level or 1) - 1].ink
        if not is_dark(pixels, ink):
            self.bright.append(f"{where}: {pixels.reshape(-1, 3).max(axis=0)}, not {ink}")

    def _look(self) -> Pixels:
        """Return what the screen shows, a caret and all."""
        seen = self._page.screenshot(caret="initial", timeout=10_000)
        return np.asarray(Image.open(io.BytesIO(seen)).convert("RGB"))


@pytest.fixture
def real_desk() -> Any:
    """Gives a desk, with a practice darkroom or without, and the address of the real server around it."""
    served: list[Server] = []

    def give(practice: bool) -> tuple[StandInDesk, str]:
        desk = StandInDesk(practice=practice)
        desk.work(desk.crane, "s1")
        server = Server(create_app(desk, hosts=["127.0.0.1"]), "127.0.0.1", 0)
        server.start()
        served.append(server)
        return desk, f"http://127.0.0.1:{server.port}"

    yield give
    for server in served:
        server.close()


def test_the_walk_sees_a_bubble(whole_browser: Browser) -> None:
    """A form without `novalidate` does make a white bubble here: what the walk looks for can be seen."""
    page = whole_browser.new_page(viewport={"width": 390, "height": 500})
    try:
        page.set_content(
            "<meta name=color-scheme content=dark><style>html{background:#000}input,button{appearance:none;"
            "background:#000;color:#500;border:0}</style><form><input type=radio required><button>go</button></form>"
        )
        assert is_dark(look(page))
        page.click("button")
        page.wait_for_timeout(300)
        assert not is_dark(look(page))
    finally:
        page.close()


def test_a_missing_choice_is_said_in_the_page(phone: Page, desk: StandInDesk) -> None:
    """One more burn has the least amount and the present filter beforehand; without them a sentence says what lacks."""
    desk.show(**OPEN)
    phone.goto("/")
    phone.get_by_text(say("page.act-more-burn"), exact=True).click()
    chosen = phone.eval_on_selector_all(".burn input:checked", "all => all.map((one) => one.value)")
    assert chosen == ["stops 1/4", "soft", ""]
    phone.evaluate("document.querySelectorAll('.burn input').forEach((one) => { one.checked = false; })")
    phone.get_by_text(say("page.act-more-burn-sure")).click()
    phone.get_by_text(say("page.refused-more-burn")).wait_for()
    assert desk.acts == []
