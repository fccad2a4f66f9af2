"""Makes the pictures of the tutorial's second evening: `.venv/bin/python docs/second_evening.py`.

It serves a practice darkroom of its own, and works from a contact sheet to the first print of a negative by foot and
thumb: some minutes. The pictures are 390 wide, as a phone shows the page; dark ones are brightened as all others are.
"""

from __future__ import annotations

import time
from typing import Final

from screenshots import SECOND_EVENING, Walk, brightened, walking

SHEET, FRAME, SOFT, HARD = "practice sheets 1", "boat slip", "8.5", "5.7"
BANDS: Final = {"soft": 5, "hard": 7}


class SecondEvening(Walk):
    """One phone, from a negative to its first print."""

    def keep(self, name: str) -> None:
        """Keep a picture of the page as it is, under a name of this evening's own."""
        time.sleep(0.5)
        (self._made / f"{SECOND_EVENING}{name}.png").write_bytes(brightened(self.page.screenshot()))

    def negative(self) -> None:
        """Put a negative into the carrier, and load its first strip."""
        self.page.goto("/negatives")
        self.page.click("button:has-text('all paper is away')")
        self.page.click(f"a:has-text('{SHEET}')")
        self.page.click(f"a:has-text('{FRAME}')")
        self.page.wait_for_selector("button:has-text('Put it into the carrier')")
        self.keep("frame")
        self.page.click("button:has-text('Put it into the carrier')")
        self.page.click("button:has-text('First strip')")
        self.until("change filter")
        self.look("")

    def put(self, name: str) -> None:
        """Put a filter in, once it is asked for, and say so by foot."""
        self.page.wait_for_selector(f".rack [data-wanted][value='{name}']")
        self.page.click(f".rack button[value='{name}']")
        time.sleep(0.6)
        self.filter_in()

    def give(self, lights: int, then: str = "finished") -> None:
        """Give so many lights by foot."""
        for number in range(lights):
            self.light(then if number + 1 == lights else "ready")

    def developed(self, name: str, then: str) -> None:
        """Close the sheet, develop it, and keep a picture of what lies in the tray."""
        self.close(then)
        self.page.click("[data-lead] form[action='/practice/develop'] button")
        self.page.wait_for_selector(".in-tray image, .in-tray img")
        if name == "print":
            self.keep(name)

    def band(self, seconds: str, name: str) -> None:
        """Tap a band in the tray, keep a picture of it, and use its time."""
        self.page.locator(".in-tray text", has_text=seconds).first.click(force=True)
        self.keep(name)
        self.page.click("button:visible:has-text('Use this time')")
        self.until("change filter")
        time.sleep(1.0)


def main() -> None:
    """Walk the second evening as far as its first print, and keep its pictures."""
    with walking(SecondEvening) as walk:
        walk.negative()
        walk.put("soft")
        walk.give(BANDS["soft"])
        walk.developed("soft", "nothing chosen")
        walk.band(SOFT, "soft")
        walk.filter_in()
        walk.give(1, "change filter")
        walk.put("hard")
        walk.give(BANDS["hard"])
        walk.developed("hard", "nothing chosen")
        walk.band(HARD, "hard")
        walk.put("soft")
        walk.give(1, "change filter")
        walk.put("hard")
        walk.give(1)
        walk.developed("print", "ready")
        walk.hand_over()


if __name__ == "__main__":
    main()
