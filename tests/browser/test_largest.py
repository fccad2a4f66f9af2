"""What is the largest thing in view, where one word decides what the hands do."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import pytest
from playwright.sync_api import Page
from tools.browser import OVER, SIZES, WIDTHS
from tools.stand_in_desk import PLAN, StandInDesk, next_step

BOX = """() => {
  const one = document.querySelector('[data-panel] .big');
  return [one.scrollWidth - one.clientWidth, one.clientHeight / parseFloat(getComputedStyle(one).fontSize)];
}"""
"""How far the largest runs out at the side, and how many of its lines it is high, the small words above it included."""
LINES = """() => {
  const word = document.createRange();
  word.selectNode(document.querySelector('[data-panel] .big').lastChild);
  return new Set([...word.getClientRects()].filter((box) => box.width > 1).map((box) => Math.round(box.top))).size;
}"""
"""On how many lines the largest word itself stands."""


def _changes(
    page: Page, desk: StandInDesk, address: str, filters: Sequence[str], *, day: bool
) -> Iterator[tuple[str, int]]:
    """Show a change to each filter at every width; give the filter's name and the width."""
    desk.show(plan=PLAN, place="change filter", headline="Stop down to f/8. Put the hard filter in, then press.")
    if day:
        desk.say_day()
    for width, height in WIDTHS:
        page.set_viewport_size({"width": width, "height": height})
        for name in filters:
            desk.show(next=next_step(2, filter=name))
            page.goto(address)
            page.wait_for_selector("html.day" if day else "html.live:not(.day)")
            yield name, width


@pytest.mark.parametrize("day", [False, True])
@pytest.mark.parametrize("address", ["/", "/practice"])
def test_the_filter_to_be_put_in_is_the_largest(
    open_phone: Callable[..., Page], desk: StandInDesk, address: str, day: bool
) -> None:
    """At a change of filter nothing in view is nearly so large as its own word, on one line, at every width."""
    page = open_phone()
    for name, width in _changes(page, desk, address, ("soft", "hard", "2", "yellow 40"), day=day):
        sizes = dict(page.evaluate(SIZES))
        word = sizes.pop(name)
        assert word >= OVER * max(sizes.values()), (name, width, word, sizes)
        beside, lines = page.evaluate(BOX)
        assert beside <= 0, (name, width)
        assert lines < (2 if name != "yellow 40" else 3.2), (name, width, lines)


@pytest.mark.parametrize("day", [False, True])
@pytest.mark.parametrize("address", ["/", "/practice"])
def test_the_filter_to_be_put_in_is_one_word_with_large_text(
    open_phone: Callable[..., Page], desk: StandInDesk, address: str, day: bool
) -> None:
    """With text at 200 % its name stands on one line, and within what it stands in, at every width."""
    page = open_phone()
    for name, width in _changes(page, desk, address, ("soft", "hard"), day=day):
        page.evaluate("document.documentElement.style.fontSize = '32px'")
        assert page.evaluate(BOX)[0] <= 0, (name, width)
        assert page.evaluate(LINES) == 1, (name, width)


def test_on_a_strip_the_count_is_the_largest(open_phone: Callable[..., Page], desk: StandInDesk) -> None:
    """Which band of how many is larger than the filter and the seconds, on one line, at every width."""
    desk.show(plan=PLAN, place="ready", headline="Press when ready.")
    page = open_phone()
    for width, height in WIDTHS:
        page.set_viewport_size({"width": width, "height": height})
        for count, filter_name in (("2 of 7", "2"), ("10 of 12", "soft")):
            desk.show(next=next_step(2, name=f"band {count}", verb="band", area="", filter=filter_name))
            for address in ("/", "/practice"):
                page.goto(address)
                page.wait_for_selector("html.live")
                sizes = dict(page.evaluate(SIZES))
                assert sizes.pop(count) > 1.05 * max(sizes.values()), (width, address, sizes)
                assert page.evaluate(BOX)[1] < 2, (count, width, address)
