"""The slate."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hardware.slate import Interrupted, Page, SlateWriter, darkened, interrupted, read_slate
from hardware.wire_json import LONGEST_NAME

MS = 1_000_000
BOOT = "9f5a2a0e-5d30-4f19-9a0c-5f8f1d9c7d11"
LIT = Page(
    boot=BOOT,
    pid=311,
    id="b1946ac92492d2347c6235b4d2611184",
    kind="step",
    sheet="sheet-12",
    lit=True,
    on_ns=5_000 * MS,
    last_pass_ns=8_000 * MS,
    lit_ms=10_100,
)
ROOMY = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=50, deadline=None)


def text(most: int) -> st.SearchStrategy[str]:
    letters = st.characters(exclude_characters="\0", exclude_categories=["Cs"])
    return st.text(letters, max_size=most).filter(lambda word: len(word.encode()) <= most)


pages = st.builds(
    Page,
    boot=text(64),
    pid=st.integers(0, 2**22),
    id=text(LONGEST_NAME),
    kind=st.sampled_from(["", "step", "focus", "check"]),
    sheet=text(LONGEST_NAME),
    lit=st.booleans(),
    on_ns=st.integers(0, 2**62),
    last_pass_ns=st.integers(0, 2**62),
    lit_ms=st.integers(0, 900_000),
    dark_ns=st.integers(0, 2**62),
    why=st.sampled_from(["", "complete", "foot", "page", "limit", "lease", "lid", "tether", "keeper", "fault"]),
    last_event=text(1500),
    dropped=st.integers(0, 2**40),
)


@ROOMY
@given(st.lists(pages, min_size=1, max_size=5))
def test_the_last_page_written_is_the_page_read(tmp_path: Path, written: list[Page]) -> None:
    """Whatever is written is read back whole, the last page only, by this writer's and the next one's hand."""
    path = tmp_path / "slate"
    for some in (written, written[::-1]):
        slate = SlateWriter(path)
        for page in some:
            slate.write(page)
            assert read_slate(path) == page
        slate.close()
        slate.close()
    assert path.stat().st_size == 4096


@ROOMY
@given(pages, pages, st.data())
def test_a_kill_in_the_middle_of_a_write_leaves_the_page_before(
    tmp_path: Path, old: Page, new: Page, data: st.DataObject
) -> None:
    """Where only a part of a write has reached the page, the page before it is read, or the new one whole."""
    path = tmp_path / "slate"
    slate = SlateWriter(path)
    slate.write(replace(old, pid=1))
    slate.write(old)
    before = path.read_bytes()
    slate.write(new)
    after = path.read_bytes()
    slate.close()
    changed = [n for n in range(4096) if before[n] != after[n]]
    cut = data.draw(st.sampled_from([*changed, 4096]))
    for torn in (after[:cut] + before[cut:], before[:cut] + after[cut:]):
        path.write_bytes(torn)
        assert read_slate(path) in (old, new)


@pytest.mark.parametrize("raw", [b"", b"\0" * 4096, b"junk" * 1024, b"Tsl1" * 1024, b"Tsl2" * 1024, b"Tsl2"])
def test_what_is_no_slate_reads_as_none(tmp_path: Path, raw: bytes) -> None:
    """A missing file, an empty one and one with neither slot whole have no page; the next write makes one."""
    path = tmp_path / "slate"
    assert read_slate(path) is None
    path.write_bytes(raw)
    assert read_slate(path) is None
    slate = SlateWriter(path)
    slate.write(LIT)
    slate.close()
    assert read_slate(path) == LIT


def test_what_stood_on_the_slate_stays_until_the_first_write(tmp_path: Path) -> None:
    """A new writer leaves the page of the one before it until it writes itself."""
    path = tmp_path / "slate"
    for page in (LIT, replace(LIT, pid=312)):
        slate = SlateWriter(path)
        if page.pid == 312:
            assert read_slate(path) == LIT
        slate.write(page)
        slate.close()
    assert read_slate(path) == replace(LIT, pid=312)


def test_an_event_too_long_for_the_page_is_cut(tmp_path: Path) -> None:
    """A dropped event longer than the page has room for is cut, not refused: the keeper must not fail over it."""
    path = tmp_path / "slate"
    slate = SlateWriter(path)
    slate.write(replace(LIT, last_event="é" * 1000))
    slate.close()
    page = read_slate(path)
    assert page is not None
    assert page.last_event == "é" * 750


def test_the_page_outlives_a_killed_writer(tmp_path: Path) -> None:
    """The page of a process killed with SIGKILL is there for the next."""
    path = tmp_path / "slate"
    writing = (
        "import os, signal, sys, pathlib\n"
        "from hardware.slate import *\n"
        f"SlateWriter(pathlib.Path({str(path)!r})).write({LIT!r})\n"
        "os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", writing], cwd=root, check=False, timeout=30)
    assert done.returncode == -9
    assert read_slate(path) == LIT


def test_a_page_that_says_dark_was_not_interrupted() -> None:
    """Only a page that still says lit is an interrupted light."""
    assert interrupted(replace(LIT, lit=False, dark_ns=9_000 * MS), 9_500 * MS, BOOT) is None


def test_in_the_same_boot_the_light_lasted_between_last_pass_and_dark() -> None:
    """A killed keeper's light lasted at least until its last pass and at most until the line was driven dark."""
    assert interrupted(LIT, 8_400 * MS, BOOT) == Interrupted(LIT.id, LIT.on_ns, 3_000 * MS, 3_400 * MS)


def test_a_light_that_went_past_its_plan_is_not_made_shorter() -> None:
    """A keeper that died lit may have given more than its order: the most is not capped by the plan."""
    found = interrupted(LIT, 25_000 * MS, BOOT)
    assert found is not None
    assert found.most_ns == 20_000 * MS > LIT.lit_ms * MS


def test_the_moment_another_hand_darkened_the_line_counts() -> None:
    """Where another hand has noted when it darkened the line, the light lasted at most until then."""
    page = darkened(LIT, 8_200 * MS)
    assert interrupted(page, 60_000 * MS, BOOT) == Interrupted(LIT.id, LIT.on_ns, 3_000 * MS, 3_200 * MS)
    assert darkened(page, 9_000 * MS) == page
    dark = replace(LIT, lit=False, dark_ns=1)
    assert darkened(dark, 9_000 * MS) == dark


def test_a_light_that_was_lit_and_killed_at_once_lasted_at_least_nothing() -> None:
    """The least is never negative, nor more than the most."""
    killed = replace(LIT, last_pass_ns=LIT.on_ns - 1)
    assert interrupted(killed, LIT.on_ns + MS, BOOT) == Interrupted(LIT.id, LIT.on_ns, 0, MS)


def test_after_a_power_cut_the_light_lasted_between_nothing_and_its_order() -> None:
    """After another boot no time can be compared: nothing to the order's whole length."""
    assert interrupted(LIT, 77, "another boot") == Interrupted(LIT.id, LIT.on_ns, 0, 10_100 * MS)
