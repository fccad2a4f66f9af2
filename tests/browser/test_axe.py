"""Every page as axe sees it: no violation of any impact, by day, in practice, and in the dark but for its dimness."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page
from tools.axe import needs_axe, violations
from tools.fitted_papers import demo
from tools.negatives import photograph, tree
from tools.stand_in_desk import CODE, KEY, PLAN, StandInDesk, next_step, step_lines

from webui.app import create_app
from webui.frame.red import BRIGHTEST, cookie_name
from webui.server import Server

pytestmark = [pytest.mark.browser, needs_axe]

OPEN_ALL = "document.querySelectorAll('details').forEach((fold) => { fold.name = ''; fold.open = true; })"
DARK_PAGES = ("/", "/choose", "/sheets", "/sheets/s1", "/phone", "/settings", "/nowhere", "/pair", "/health")
DAY_PAGES = (
    *("/", "/choose", "/sheets", "/sheets/s1", "/sheets/s2", "/phone", "/settings", "/settings/phones", "/wall"),
    *("/shelf", "/shelf/{crane}", "/shelf/{crane}/edit", "/shelf/{crane}/versions", "/shelf/{crane}/kept"),
    *("/shelf/{strip}", "/shelf/{strip}/edit", "/shelf/new/recipe", "/shelf/new/strip", "/pick/s2?band=4&between=0"),
    *("/papers", "/papers/{paper}", "/papers/{paper}/readings", "/papers/{paper}/box", "/papers/{paper}/filters"),
    *(
        "/papers/new",
        "/papers/by-eye",
        "/papers/scan",
        "/lamp",
        "/sounds",
        "/contrast",
        "/contrast/hold",
        "/contrast/negative",
    ),
    *("/negatives", "/negatives/new", "/negatives/{film}", "/negatives/{film}?pencil=mark+print"),
    *("/negatives/{film}/edit", "/negatives/{film}/frame/2", "/negatives/{film}/proof"),
    *("/negatives/{film}/proof?corner=top-left",),
    *("/enlarger", "/enlarger/carrier", "/enlarger/paper", "/enlarger/set-up", "/enlargers/new"),
    *("/carry/{crane}", "/carry/{crane}?go=1&aperture=11", "/practice", "/pair", "/nowhere", "/health"),
    "/reckon?of=size&negative_mm=120&from_mm=240&to_mm=330&time=10",
    "/contrast?go=1&paper={paper}&light-negative=1.25&dark-negative=0.22&light=first&dark=last",
)
SHEET: dict[str, Any] = {
    "plan": PLAN,
    "next": next_step(2),
    "steps": step_lines(),
    "sheet": "s1",
    "sheet_number": 5,
    "open": True,
    "place": "ready",
    "headline": "Press when ready.",
    "just_given": "Given: soft base, 10.1 s.",
    "day_until_ns": None,
    "day_refused": "Sheet 5 is open. Hold to close it.",
    "can": ("start", "call given", "leave out", "more burn", "no light", "close"),
    "troubles": ("No sounder answers: the lead-in is 4 s.",),
}

Opened = tuple[StandInDesk, Callable[..., Page]]


@pytest.fixture
def opened(browser: Browser, tmp_path: Path) -> Iterator[Callable[[bool], Opened]]:
    """Gives a desk with something of everything on it, and what opens phones before it."""
    contexts: list[BrowserContext] = []
    servers: list[Server] = []

    def give(practice: bool) -> Opened:
        desk = StandInDesk(practice=practice)
        desk.clock = time.monotonic_ns
        desk.papers().keep(demo().model_copy(update={"name": "paper one"}))
        desk.keep_pictures_in(tmp_path / "pictures")
        film = desk.negatives().make(tree())
        (tmp_path / "proof.jpg").write_bytes(photograph())
        with (tmp_path / "proof.jpg").open("rb") as file:
            desk.negatives().photograph(film.id, file, "proof.jpg")
        desk.work(desk.crane, "s1")
        desk.work(desk.strip, "s2")
        server = Server(create_app(desk, hosts=["127.0.0.1"]), "127.0.0.1", 0)
        server.start()
        servers.append(server)
        base = f"http://127.0.0.1:{server.port}"

        def phone(red: int | None = None, width: int = 390) -> Page:
            context = browser.new_context(viewport={"width": width, "height": 844}, base_url=base)
            context.set_default_timeout(20_000)
            contexts.append(context)
            desk.pairing().code = CODE
            page = context.new_page()
            page.goto(f"/pair?code={CODE}")
            page.click("main button")
            page.wait_for_url("**/phone*")
            if red is not None:
                context.add_cookies([{"name": cookie_name(KEY), "value": str(red), "url": base}])
            return page

        return desk, phone

    yield give
    for context in contexts:
        context.close()
    for server in servers:
        server.close()


def _judge(page: Page, addresses: tuple[str, ...], *left_out: str, face: str = "html") -> list[str]:
    found: list[str] = []
    for address in addresses:
        page.goto(address)
        page.wait_for_selector(face)
        page.evaluate(OPEN_ALL)
        found += [f"{address}: {what}" for what in violations(page, *left_out)]
    return found


def _named(desk: StandInDesk, addresses: tuple[str, ...]) -> tuple[str, ...]:
    names = {"crane": desk.crane.id, "strip": desk.strip.id, "paper": desk.papers().kept()[0].id}
    names["film"] = desk.negatives().page().sets[0].id
    return tuple(address.format(**names) for address in addresses)


def test_by_day_nothing_is_wrong(opened: Callable[[bool], Opened]) -> None:
    """Every page of the lit room, its folds open."""
    desk, phone = opened(True)
    page = phone()
    desk.say_day()
    pages = tuple(address for address in DAY_PAGES if address != "/pair")
    assert _judge(page, _named(desk, pages), face="html.day") == []


def test_in_practice_nothing_is_wrong(opened: Callable[[bool], Opened]) -> None:
    """The practice darkroom's bright reds and its first pages: enough contrast for any eye, with an open sheet too."""
    desk, phone = opened(True)
    page = phone()
    assert _judge(page, (*DARK_PAGES, "/practice")) == []
    desk.show(**SHEET)
    assert _judge(page, ("/", "/practice")) == []


@pytest.mark.parametrize("level", [1, pytest.param(3, marks=pytest.mark.long), BRIGHTEST])
def test_in_the_dark_nothing_is_wrong_but_that_it_is_dark(opened: Callable[[bool], Opened], level: int) -> None:
    """Below the fifth level the reds may be too dim for any eye; all else holds at every level."""
    desk, phone = opened(False)
    page = phone(level)
    left_out = () if level == BRIGHTEST else ("color-contrast",)
    assert _judge(page, DARK_PAGES, *left_out) == []
    desk.show(**SHEET)
    assert _judge(page, ("/",), *left_out) == []
    desk.show(place="lead-in", stop_possible=True, can=())
    assert _judge(page, ("/", "/sheets"), *left_out, face="html.stop") == []


def test_what_is_wrong_is_found(opened: Callable[[bool], Opened]) -> None:
    """A page with a picture that has no words, and grey on grey, is no page without violations."""
    _, phone = opened(False)
    page = phone()
    page.goto("/phone")
    page.evaluate(
        "document.querySelector('main').innerHTML = '<img src=x><p style=\"color:#777;background:#888\">grey</p>'"
    )
    assert {what.split()[0] for what in violations(page)} >= {"image-alt", "color-contrast"}
