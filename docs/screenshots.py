"""Makes the pictures of the documents: `.venv/bin/python docs/screenshots.py`.

It serves a practice darkroom of its own, by a clock that counts as set, and works the tutorial's strip and split-grade
sheet by foot: some minutes. Dark pages are brightened until their brightest red is full, or nobody could see them on
screen or paper; the documents say so.
"""

from __future__ import annotations

import io
import json
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from PIL import Image
from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[1]
IMAGES = ROOT / "docs" / "images"
ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
LONGEST_S = 60.0
FULL = 255
"""The brightest that a channel of a picture gets."""
FOG_S = 10.0
"""How long paper lies beside a lit phone before its sheet begins, to come out grey."""
CLOCK_SET = "import sys, controller.wall as w; w.synchronised = lambda: True; import treadle; sys.exit(treadle.main())"
"""Serves as if the network had set the clock: what a picture shows is a darkroom whose clock is right."""
SECOND_EVENING = "negative-"
"""What the names of pictures begin with that `second_evening.py` makes."""
AFTER_CLOSE_S = 15.0
"""A little longer than a print of unknown paper keeps white light away after a close, its trays hurried."""


def main() -> None:
    """Walk the tutorial and keep a picture of each stand."""
    with walking(Walk) as walk:
        walk.strip()
        walk.sheet()
        walk.darkened()
        for old in IMAGES.glob("*.png"):  # only now: a walk that stumbles leaves the documents their pictures
            if not old.name.startswith(SECOND_EVENING):
                old.unlink()
        walk.hand_over()
    film_proof()
    negative_row()


def negative_row() -> None:
    """Keep a picture of a negative's row: its strips and prints, worked by foot and developed, with a verdict."""
    with walking(Walk) as walk:
        (IMAGES / "negative-row.png").write_bytes(walk.negative("practice film 1", "lighthouse"))


def film_proof() -> None:
    """Keep the practice film's contact proof strip, by steps of five seconds, as it comes out of the tray."""
    times = {"kind": "seconds", "step": 5, "bands": 7}
    strip = {
        "format": "treadle/strip/1",
        "title": "Proof",
        "filter": "2",
        "times": times,
        "card": "cover",
        "pace": "press",
    }
    presses = [[10_000 * n + after, way] for n in range(9) for after, way in ((0, "down"), (150, "up"))]
    hold = [[100_000, "down"], [101_000, "up"]]
    with tempfile.TemporaryDirectory() as folder:
        form, feet, out = Path(folder) / "strip.json", Path(folder) / "feet.json", Path(folder) / "out.png"
        form.write_text(json.dumps(strip))
        feet.write_text(json.dumps({"format": "treadle/feet/1", "edges": [*presses, *hold]}))
        how = ["--feet", str(feet), "--negative", "film", "--picture", str(out)]
        subprocess.run(
            [sys.executable, "treadle.py", "replay", str(form), *how], cwd=ROOT, check=True, stdout=subprocess.DEVNULL
        )
        with Image.open(out) as seen:
            top, bottom = 0.27 * seen.height, 0.73 * seen.height
            cut = seen.crop((0, round(top), seen.width, round(bottom)))
            cut.resize((900, round(900 * cut.height / cut.width)), Image.Resampling.LANCZOS).save(
                IMAGES / "film-proof.png", optimize=True
            )


@contextmanager
def served(data: Path) -> Iterator[tuple[str, str]]:
    """Serve the practice darkroom; give its port and its pairing code."""
    command = [sys.executable, "-c", CLOCK_SET, "serve", "--simulate", "--data", str(data), "--host", "127.0.0.1"]
    daemon = subprocess.Popen([*command, "--port", "0"], cwd=ROOT, stdout=subprocess.PIPE, text=True)
    assert daemon.stdout is not None
    try:
        port = ""
        for line in daemon.stdout:
            if found := re.search(r"http://(?:localhost|127\.0\.0\.1):(\d+)", line):
                port = found.group(1)
            if found := re.search(r"(\d{4}) (\d{4})", line):
                yield port, found.group(1) + found.group(2)
                break
        else:
            raise SystemExit("the daemon did not say its pairing code")
    finally:
        daemon.send_signal(signal.SIGTERM)
        daemon.wait(10)
        daemon.stdout.close()


class Walk:
    """One phone, which is also the practice darkroom's foot."""

    def __init__(self, page: Page, made: Path) -> None:
        """`made` is where the pictures go."""
        self.page, self._made = page, made

    def pair(self, code: str) -> None:
        """Pair the phone."""
        self.page.goto(f"/pair?code={code}")
        self.page.click("main button")
        self.page.wait_for_url("**/phone*")

    def strip(self) -> None:
        """Load the first strip and work it."""
        self.window("choose")
        self.page.goto("/")
        self.page.click("button:has-text('First strip')")
        self.until("change filter")
        self.window("filter")
        self.page.click("button.chip:has-text('2')")
        self.keep("practice")
        self.filter_in()
        for band in range(1, 8):
            self.begin()
            self.window("light" if band == 4 else "")
            self.until("finished" if band == 7 else "ready")
        self.close("nothing chosen")
        self.page.click("[data-lead] form[action='/practice/develop'] button")
        self.page.click(".in-tray a[href='#pick-4']")
        self.window("picked", anew=False)
        self.page.click("[data-lead] button[value=enlarger]")
        self.page.wait_for_selector(".window[data-view=enlarger]")

    def sheet(self) -> None:
        """Load the recipe, and work the whole split-grade sheet."""
        self.page.goto("/")
        self.page.click("button:has-text('Harbour crane')")
        self.until("change filter")
        self.look("")
        self.page.click("button.chip:has-text('soft')")
        self.filter_in()
        self.light("ready")
        self.begin()
        self.window("burn")
        self.until("change filter")
        self.page.click("button.chip:has-text('hard')")
        time.sleep(0.6)
        self.filter_in()
        self.look("dodge")
        self.light("ready")
        self.light("ready")
        self.light("finished")
        self.close("change filter", "ready")
        self.day()
        self.page.goto("/sheets")
        self.page.click("a:has-text('Harbour crane')")
        self.keep("record")

    def darkened(self) -> None:
        """By day, develop both sheets, print what the strip tells, fog a sheet, and look at wall and practice page."""
        self.develop("First strip")
        self.page.click("a:has-text('See it dry')")
        self.keep("strip-print")
        self.develop("Harbour crane")
        self.page.click("a:has-text('See it dry')")
        self.keep("print")
        self.fogged(self.picked())
        self.page.goto("/wall")
        self.keep("wall")
        self.page.goto("/practice")
        self.page.wait_for_selector(".treadle")
        for name in ("hands", "scene", "faults"):
            self.page.click(f"details.{name} summary")
            self.page.locator(f"details.{name}").evaluate("one => one.scrollIntoView()")
            self.keep(name)
            self.page.click(f"details.{name} summary")
        self.focus()
        self.page.evaluate("scrollTo(0, 0)")
        time.sleep(1.0)
        self.keep("baseboard")
        self.tread()
        self.map()

    def picked(self) -> str:
        """Take band 4 of the strip as a recipe, print it, develop the print; return the recipe's page."""
        self.page.goto("/sheets")
        self.page.click("a:has-text('First strip')")
        self.page.click("a:has-text('pick a band')")
        self.page.click("svg.print a[href*='band=4']")
        self.page.wait_for_url("**/pick/**")
        self.page.click("button[form=pick]")
        self.page.wait_for_url("**done=1*")
        self.page.click("p.advice a")
        recipe = self.page.url
        self.load(recipe)
        self.one_light()
        self.day()
        self.develop_newest()
        return recipe

    def fogged(self, recipe: str) -> None:
        """Print a recipe once more on paper that lies beside a lit phone, and look at it dry."""
        self.load(recipe)
        self.hand("paper-out")
        self.hand("phone-on")
        time.sleep(FOG_S)
        self.one_light()
        self.hand("phone-off")
        self.hand("paper-away")
        self.day()
        self.develop_newest()
        self.page.click("a:has-text('See it dry')")
        self.keep("fogged")

    def load(self, recipe: str) -> None:
        """Load a recipe from its page, and go to the foot switch."""
        self.page.goto(recipe)
        use = self.page.locator("form[action='/act/load'] button.sure")
        if use.count():  # else it is what the next sheet gets already
            use.click()
            time.sleep(1.5)  # the sheet before it stands at the same place
        self.until("change filter", "ready")
        self.look("")

    def one_light(self) -> None:
        """Give a sheet of one light through filter 2, and close it."""
        self.page.click("button.chip:has-text('2')")
        if self.until("change filter", "ready") == "change filter":
            self.filter_in()
        self.light("finished")
        self.close("ready")

    def hand(self, what: str) -> None:
        """Do one thing with the hands on the practice page."""
        if not self.page.is_visible("details.hands[open]"):
            self.page.click("details.hands summary")
        self.page.click(f"details.hands button[value={what}]")
        time.sleep(0.3)

    def develop_newest(self) -> None:
        """Develop the sheet that was closed last, from the practice page."""
        self.page.goto("/sheets")
        self.page.click("ol.sheets >> nth=0 >> a >> nth=-1")
        self.page.click("form[action='/practice/develop'] button")
        self.page.wait_for_url("**/practice/print/**")

    def map(self) -> None:
        """By day, look at the recipe's printing map."""
        self.until("change filter", "ready")
        self.page.goto("/shelf")
        self.page.click("a:has-text('Harbour crane, 8x10')")
        self.page.locator("h2:has-text('Printing map')").evaluate("one => one.scrollIntoView()")
        self.keep("map")

    def develop(self, title: str) -> None:
        """Develop a sheet from its record, or see it wet again where it is developed."""
        self.page.goto("/sheets")
        self.page.click(f"a:has-text('{title}')")
        self.page.wait_for_selector("html.day")
        if self.page.locator("form[action='/practice/develop'] button").count():
            self.page.click("form[action='/practice/develop'] button")
        else:
            self.page.click("figcaption a")
            self.page.click("a:has-text('See it wet')")
        self.page.wait_for_url("**/practice/print/**")

    def focus(self) -> None:
        """Ask for focus light by two holds, once the last print is fixed.

        Another filter is asked for meanwhile: where a press would begin a light, a hold ends the day face, too.
        """
        self.page.goto("/")
        self.page.click("button:has-text('Harbour crane, 8x10')")
        self.until("change filter", "ready")
        self.look("")
        time.sleep(AFTER_CLOSE_S)
        self.tread(1.0)
        self.until("white light?")
        time.sleep(0.7)
        self.tread(1.0)
        self.until("focus light")

    # ---- a negative

    def negative(self, film: str, title: str) -> bytes:
        """Work a negative from its contact sheet to its second print, develop all of it; return its row's picture."""
        self.day()
        self.page.goto("/negatives")
        self.page.click(f"a:has-text('{film}')")
        self.page.click(f"a:has-text('{title}')")
        negative = self.page.url
        self.page.click("button:has-text('Put it into the carrier')")
        self.page.click("button:has-text('First strip')")
        for band in (4, 4):  # of the soft strip, and of the hard one
            self.work()
            self.day()
            self.page.goto("/sheets")
            self.page.click("ol.sheets >> nth=0 >> a >> nth=-1")
            self.page.click("a:has-text('pick a band')")
            self.page.click(f"a[href*='band={band}&between=0']")
            self.page.click(".bar button.sure")
            time.sleep(1.5)
        self.work()
        self.day()
        self.page.goto("/sheets")
        self.page.click("ol.sheets >> nth=0 >> a >> nth=-1")
        self.page.goto(f"/looked/{self.page.url.rsplit('/', 1)[1]}?light=-1&dark=0")
        self.page.click("section.comes button.sure")
        time.sleep(1.5)
        self.work()
        self.day()
        self.page.goto(negative)
        sheets = [link.get_attribute("href") for link in self.page.locator(".life a[href^='/sheets/']").all()]
        for sheet in sheets:
            self.page.goto(str(sheet))
            self.page.click("form[action='/practice/develop'] button")
            self.page.wait_for_url("**/practice/print/**")
        self.page.goto(negative)
        self.page.set_viewport_size({"width": 1280, "height": 900})
        self.page.wait_for_selector(".life img")
        time.sleep(1.0)
        return self.page.locator(".life").screenshot()

    def work(self) -> None:
        """Give every light of what is loaded, each filter put in as it is asked for, and close the sheet."""
        self.look("")
        while (place := self.until("change filter", "ready", "finished")) != "finished":
            if place == "change filter":
                self.page.goto("/")
                wanted = self.page.locator(".big").first.inner_text().split()[-1].lower()
                self.look("")
                self.page.click(f"button.chip:has-text('{wanted}')")
                time.sleep(0.6)
                self.filter_in()
            else:
                self.begin()
                self.until("change filter", "ready", "finished")
        self.close("nothing chosen", "change filter", "ready")

    # ---- the foot and the eye

    def day(self) -> None:
        """All paper is away: the day face."""
        self.page.goto("/")
        self.page.click("summary:has-text('paper is away')")
        self.page.click("form[action='/act/paper-away'] button:visible")
        time.sleep(1.5)

    def filter_in(self) -> None:
        """Say by foot that the filter is in, and wait until the hands are out."""
        self.tread()
        self.until("settling")
        self.until("ready")

    def begin(self) -> None:
        """Press, and wait until the light is on."""
        time.sleep(0.7)  # a press within half a second of a light starts nothing
        self.tread()
        self.until("light")

    def light(self, then: str) -> None:
        """Give the next light, to its end."""
        self.begin()
        self.until(then)

    def close(self, *then: str) -> None:
        """Hold the foot switch down."""
        time.sleep(0.7)
        self.tread(1.0)
        self.until(*then)
        time.sleep(0.5)

    def tread(self, seconds: float = 0.15) -> None:
        """Put the foot down for so long."""
        self.page.hover(".treadle")
        self.page.mouse.down()
        time.sleep(seconds)
        self.page.mouse.up()

    def until(self, *places: str) -> str:
        """Wait until the daemon stands at one of `places`, and return it."""
        until = time.monotonic() + LONGEST_S
        while (now := self.page.request.get("/status.json").json()["place"]) not in places:
            if time.monotonic() > until:
                raise SystemExit(f"stands at {now!r}, not at {' or '.join(places)}")
            time.sleep(0.05)
        return str(now)

    def look(self, name: str) -> None:
        """Keep a picture of the phone's first page, where it has a name, and come back to the foot switch."""
        if name:
            self.page.goto("/")
            self.keep(name)
        if not self.page.url.endswith("/practice"):
            self.page.goto("/practice")
            self.page.wait_for_selector(".treadle")
            time.sleep(0.5)
        if self.page.locator(".window[data-view=print]").count():  # the print that was looked at last lies in the way
            self.page.click("[data-lead] button[value=enlarger]")
            self.page.wait_for_selector(".window[data-view=enlarger]")

    def window(self, name: str, *, anew: bool = True) -> None:
        """Keep a picture of the practice page as a laptop shows it, where it has a name; `anew` goes there first."""
        if not name:
            return
        self.page.set_viewport_size({"width": 1280, "height": 800})
        if anew:
            self.page.goto("/practice")
            self.page.wait_for_selector(".treadle")
        time.sleep(0.8)
        with Image.open(io.BytesIO(self.page.screenshot())) as seen:
            seen.convert("RGB").quantize(160, dither=Image.Dither.NONE).save(
                self._made / f"window-{name}.png", optimize=True
            )
        self.page.set_viewport_size({"width": 390, "height": 844})

    def keep(self, name: str) -> None:
        """Keep a picture of the page as it is."""
        time.sleep(0.5)
        (self._made / f"{name}.png").write_bytes(brightened(self.page.screenshot()))

    def hand_over(self) -> None:
        """Put all pictures that were kept among those of the documents."""
        for picture in self._made.iterdir():
            shutil.copy(picture, IMAGES / picture.name)


WalkT = TypeVar("WalkT", bound=Walk)


@contextmanager
def walking(kind: Callable[[Page, Path], WalkT]) -> Iterator[WalkT]:
    """Serve a practice darkroom of its own, and give a walk through it on a paired phone."""
    with (
        tempfile.TemporaryDirectory() as folder,
        served(Path(folder) / "data") as (port, code),
        sync_playwright() as play,
    ):
        made = Path(folder) / "made"
        made.mkdir()
        browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=ARGS)
        context = browser.new_context(viewport={"width": 390, "height": 844}, base_url=f"http://127.0.0.1:{port}")
        context.set_default_timeout(LONGEST_S * 1000)
        walk = kind(context.new_page(), made)
        walk.pair(code)
        yield walk
        browser.close()


def brightened(png: bytes) -> bytes:
    """Return a picture of a dark page, which has red alone, with its brightest red full; any other as it is."""
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    (_, most), *others = picture.getextrema()
    if any(high for _, high in others) or not 0 < most < FULL:
        return png
    out = io.BytesIO()
    picture.point([min(FULL, at * FULL // most) for at in range(FULL + 1)] * 3).save(out, "PNG", optimize=True)
    return out.getvalue()


if __name__ == "__main__":
    main()
