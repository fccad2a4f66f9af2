"""After a crash or a power cut: what is filed of lights nobody saw the end of, and where their sheet then stands."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from tools.history import Pages, came, intent, plan, step

from controller.daemon.recovery import (
    call_short,
    check_cut,
    file_unfinished,
    paper_lay_ns,
    reopen,
    stood_at_enlarger,
    that_tell,
)
from controller.foot.status import safe_left_s
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.entries import (
    CalledGiven,
    Closed,
    Entry,
    Intent,
    LeftOut,
    LightCame,
    Loaded,
    NoLightCame,
    SheetPlanned,
    Started,
    StoodAtEnlarger,
    Struck,
)
from controller.store.folding import fold
from controller.store.records import SheetRecord
from hardware.slate import Page

MS = 1_000_000
ON = 50_000 * MS
LIGHT = intent("run-7", "a", lit_ms=10_000)


def page(**changes: object) -> Page:
    values: dict[str, object] = {
        "boot": "boot-1",
        "pid": 77,
        "id": "run-7",
        "kind": "step",
        "sheet": "a",
        "lit": True,
        "on_ns": ON,
        "last_pass_ns": ON + 3000 * MS,
        "lit_ms": 10_000,
    }
    return Page(**{**values, **changes})  # type: ignore[arg-type]


def filed(*slates: Page | None, boot: str = "boot-1", now_boot: str = "boot-1", dark_ns: int = ON + 3400 * MS) -> Entry:
    pages = Pages(boot=boot)
    rows = pages.write(SheetPlanned(sheet="a", number=1, plan=plan()), LIGHT)
    (entry,) = file_unfinished(rows, [LIGHT], [slate for slate in slates if slate is not None], now_boot, dark_ns)
    return entry


def span(entry: Entry) -> tuple[int, int, str]:
    assert isinstance(entry, LightCame)
    return entry.least_ns // MS, entry.most_ns // MS, entry.why


# ---- what is filed


def test_a_keeper_that_darkened_at_its_daemon_s_end_left_the_exact_time() -> None:
    """A slate that says dark tells exactly how long the light was on, and why it ended."""
    entry = filed(page(lit=False, dark_ns=ON + 3123 * MS, why="tether"))
    assert span(entry) == (3123, 3123, "tether")
    assert isinstance(entry, LightCame)
    assert entry.on_ns == ON


def test_a_keeper_that_died_with_the_light_on_leaves_least_and_most() -> None:
    """A slate that still says lit brackets the light: its last pass, and when this run's keeper had it dark."""
    assert span(filed(page())) == (3000, 3400, "keeper")


def test_another_hand_s_dark_is_the_most() -> None:
    """Where another hand darkened the line and said so on the slate, that moment is the most."""
    assert span(filed(page(dark_ns=ON + 3100 * MS))) == (3000, 3100, "keeper")


def test_a_light_that_never_came_on_is_none() -> None:
    """An order that stood on the slate without having been lit brought no light."""
    entry = filed(page(lit=False, on_ns=0, dark_ns=0))
    assert isinstance(entry, NoLightCame)


def test_an_order_that_never_reached_the_keeper_is_none() -> None:
    """Where the slate knows an earlier order only, the intended one was not sent."""
    entry = filed(page(id="run-6", lit=False, dark_ns=ON + 1))
    assert isinstance(entry, NoLightCame)
    assert entry.why == "not sent"


@pytest.mark.parametrize(
    "slate",
    [None, page(boot="boot-0"), page(id="", lit=False, on_ns=0, lit_ms=0)],
    ids=["gone", "of another boot", "begun anew by a keeper that knew of no order"],
)
def test_a_slate_that_knows_nothing_leaves_everything_possible(slate: Page | None) -> None:
    """Where the slate cannot tell, the light lasted anything from nothing to its order's length."""
    assert span(filed(slate)) == (0, 10_000, "fault")


@pytest.mark.parametrize(
    "slate",
    [page(id="", lit=False, on_ns=0, lit_ms=0, pid=78), page(id="lateness-1", lit=False, dark_ns=ON + 1, pid=78)],
    ids=["begun anew", "written by another's keeper"],
)
def test_a_page_kept_aside_tells_of_its_own_light(slate: Page) -> None:
    """Where a second keeper woke before the light was filed, the first one's page still brackets it."""
    assert span(filed(slate, page(dark_ns=ON + 3300 * MS))) == (3000, 3300, "keeper")


def test_a_page_kept_aside_tells_nothing_of_another_light() -> None:
    """A page that stayed behind of a light long filed neither shortens nor denies a later one."""
    blank = page(id="", lit=False, on_ns=0, lit_ms=0)
    assert span(filed(blank, page(id="run-6"))) == (0, 10_000, "fault")


def test_after_a_power_cut_the_lit_step_is_between_nothing_and_its_order() -> None:
    """In another boot the slate in memory is gone: least nothing, most the whole order."""
    assert span(filed(None, now_boot="boot-2", dark_ns=5)) == (0, 10_000, "fault")


def test_a_slate_of_the_present_boot_says_nothing_of_a_light_of_an_earlier_one() -> None:
    """An intent of an earlier boot is judged by no slate of this one."""
    assert span(filed(page(boot="boot-2"), boot="boot-1", now_boot="boot-2")) == (0, 10_000, "fault")


# ---- where the sheet stands


def record(*entries: Entry) -> SheetRecord:
    pages = Pages()
    pages.write(SheetPlanned(sheet="a", number=4, plan=plan(step(), step(2, 8000), step(3, 500))), *entries)
    (found,) = fold(pages.rows)
    return found


def test_a_sheet_reopens_at_the_first_step_that_is_not_settled() -> None:
    """Given steps stay given; the sheet stands at the first that wants light, with what that has had."""
    reopened = reopen(
        record(intent("x1", "a", 1), came("x1", 10_100), intent("x2", "a", 2), came("x2", 3000, 3000, "foot")),
        0,
        "boot-1",
    )
    work = reopened.work
    assert (work.index, work.open, reopened.number, work.sheet) == (1, True, 4, "a")
    assert [given.settled for given in work.given] == [True, False, False]
    assert work.given[1].most_ns == 3000 * MS
    assert work.missing_ns(0) == 5000 * MS
    assert work.last is not None
    assert work.last.light == "x2"


def test_least_and_most_are_both_kept_and_the_most_counts() -> None:
    """A light of least and most is reopened with both; what is missing counts from the most."""
    reopened = reopen(record(intent("x1", "a", 1), came("x1", 0, 10_100, "fault")), 0, "boot-1")
    assert (reopened.work.given[0].least_ns, reopened.work.given[0].most_ns) == (0, 10_100 * MS)
    assert reopened.work.index == 0
    assert reopened.work.doubt(0) == 0


def test_what_was_called_given_or_left_out_stays_so() -> None:
    """Steps called given or left out are settled after a restart too."""
    reopened = reopen(
        record(
            *(intent("x1", "a", 1), came("x1", 2000, 2000, "foot"), CalledGiven(sheet="a", step=1, by="page")),
            LeftOut(sheet="a", step=2),
        ),
        0,
        "boot-1",
    )
    assert reopened.work.index == 2


def test_a_struck_light_counts_nothing_and_is_not_the_last() -> None:
    """A struck light gave nothing: the step wants its whole light; another light is the last one."""
    reopened = reopen(
        record(
            *(intent("x1", "a", 1), came("x1", 10_100), intent("x2", "a", 2), came("x2", 8000)),
            Struck(sheet="a", light="x2"),
        ),
        0,
        "boot-1",
    )
    assert reopened.work.index == 1
    assert reopened.work.given[1].most_ns == 0
    assert reopened.work.last is not None
    assert reopened.work.last.light == "x1"


@pytest.mark.parametrize("settled", [CalledGiven(sheet="a", step=1, by="page"), LeftOut(sheet="a", step=1)])
def test_a_step_whose_light_was_struck_wants_it_again(settled: Entry) -> None:
    """Called given or left out and then struck, a step is neither, as the grammar has it; said afterwards, it is."""
    before = (intent("x1", "a", 1), came("x1", 2000, 2000, "foot"), settled)
    struck = Struck(sheet="a", light="x1")
    found = record(*before, struck)
    assert (found.steps[0].called_given, found.steps[0].left_out) == (False, False)
    assert reopen(found, 0, "boot-1").work.index == 0
    again = record(*before, struck, settled)
    assert reopen(again, 0, "boot-1").work.index == 1


def test_a_struck_light_settles_not_even_a_step_that_the_lag_covers() -> None:
    """A step of 0.2 s of a lamp with 0.4 s of lag wants no full light; struck, it wants its own all the same."""
    pages = Pages()
    light = Intent.model_validate({**intent("x1", "a", 1, lit_ms=400).model_dump(), "lag_ms": 400})
    pages.write(SheetPlanned(sheet="a", number=4, plan=plan(step(1, 200))), light, came("x1", 400))
    assert reopen(fold(pages.rows)[0], 400, "boot-1").work.given[0].settled
    pages.write(Struck(sheet="a", light="x1"))
    assert not reopen(fold(pages.rows)[0], 400, "boot-1").work.given[0].settled


def test_the_last_light_can_be_struck_after_a_restart() -> None:
    """What the last light's step had before it is known, so that it can be struck."""
    reopened = reopen(
        record(
            *(intent("x1", "a", 1, 1), came("x1", 2000, 2000, "foot")),
            *(intent("x2", "a", 1, 2), came("x2", 3000, 3000, "foot")),
        ),
        0,
        "boot-1",
    )
    last = reopened.work.last
    assert last is not None
    assert (last.index, last.before.most_ns) == (0, 2000 * MS)
    assert reopened.work.given[0].parts == 2


def test_lag_is_taken_off_each_part() -> None:
    """With a lamp lag what was given counts in full light, each switching's loss taken off."""
    light = Intent.model_validate({**intent("x1", "a", 1).model_dump(), "lag_ms": 100})
    reopened = reopen(record(light, came("x1", 2000, 2000, "foot")), 100, "boot-1")
    assert reopened.work.given[0].most_ns == 1900 * MS


# ---- remainders too short to light


def test_a_remainder_too_short_to_light_counts_as_given() -> None:
    """A light cut off less than 0.2 s before its end leaves no remainder after a restart: called given, by rule."""
    found = record(intent("x1", "a", 1), came("x1", 9950, 9950, "tether"))
    (called,) = call_short(found, 0)
    assert called == CalledGiven(sheet="a", step=1, by="rule")
    again = record(intent("x1", "a", 1), came("x1", 9950, 9950, "tether"), called)
    assert reopen(again, 0, "boot-1").work.index == 1
    assert call_short(again, 0) == []


@pytest.mark.parametrize(
    ("least", "most"), [(9000, 9000), (0, 10_100), (5000, 10_000)], ids=["enough is missing", "doubt", "more doubt"]
)
def test_what_can_be_lit_or_is_in_doubt_is_not_called_given(least: int, most: int) -> None:
    """A remainder that can be lit stays; one in doubt waits for the printer's word."""
    assert call_short(record(intent("x1", "a", 1), came("x1", least, most, "keeper")), 0) == []


def test_a_step_without_light_is_never_short() -> None:
    """A step that has had nothing is not called given, however short it is."""
    assert call_short(record(intent("x1", "a", 1), came("x1", 10_100)), 0) == []


def test_a_sheet_that_another_boot_opened_has_no_safe_minutes_left() -> None:
    """How long paper has lain since another boot nobody knows, so its safe minutes are over."""
    found = record(intent("x1", "a", 1), came("x1", 0, 2000, "foot"))
    assert reopen(found, 0, "boot-1").opened_ns == found.opened.at_ns
    assert safe_left_s(reopen(found, 0, "boot-2").opened_ns, 5_000_000_000, 30.0) == 0


@pytest.mark.parametrize("wait_ms", [10_000, 300_000])
def test_a_restart_does_not_forget_that_the_paper_is_put_away_first(wait_ms: int) -> None:
    """Holds and room light wait from the close, over a restart too; of another boot's sheet, from the start."""
    rows = Pages(boot="boot-1").write(Closed(sheet="a", outcome="complete"))
    closed, wait = rows[-1].at_ns, wait_ms * MS
    assert paper_lay_ns(rows, "boot-1", closed + 7 * MS, wait_ms) == closed + wait
    assert paper_lay_ns(rows, "boot-2", 9 * MS, wait_ms) == 9 * MS + wait
    assert paper_lay_ns(Pages(boot="boot-1").write(LIGHT), "boot-1", 9 * MS, wait_ms) == 0


_LIGHTS = st.sampled_from(["l1", "l2", "l3", "l4"])
_FILED = st.lists(
    st.one_of(
        st.builds(
            Intent,
            light=_LIGHTS,
            light_kind=st.sampled_from(["step", "check"]),
            lit_ms=st.just(2_000),
            start_ns=st.just(5 * MS),
        ),
        st.builds(
            LightCame,
            light=_LIGHTS,
            on_ns=st.integers(1, 9).map(lambda ms: ms * MS),
            least_ns=st.just(MS),
            most_ns=st.just(2 * MS),
            why=st.sampled_from(["foot", "keeper", "tether"]),
        ),
        st.builds(Started, practice=st.just(True), timing=st.just("")),
        st.builds(Loaded, source=_LIGHTS, version=st.just(1), title=st.just("Crane")),
        st.builds(Closed, sheet=st.just("a"), outcome=st.just("complete")),
        st.builds(StoodAtEnlarger, bench=st.builds(AtEnlarger, negative_title=_LIGHTS)),
    ),
    max_size=14,
)


_A_CHECK = (Intent(light="l1", light_kind="check", lit_ms=2_000, start_ns=5 * MS), came("l1", 0, 2_000, "keeper"))


@given(_FILED, st.sampled_from(["boot-1", "boot-2"]))
@example([*_A_CHECK, intent("l2", "a"), came("l2", 2_000)], "boot-1")
@example([intent("l2", "a"), came("l2", 2_000), *_A_CHECK], "boot-1")
def test_the_rows_that_are_kept_tell_what_all_of_them_tell(filed: list[Entry], boot: str) -> None:
    """What a start goes by is the same from the few rows that it keeps as from all that it has read."""
    intended = set[str]()
    pages = Pages(boot="boot-1")
    for entry in filed:  # an intent is filed once, before its light
        if isinstance(entry, Intent | LightCame) and isinstance(entry, Intent) == (entry.light in intended):
            continue
        if isinstance(entry, Intent):
            intended.add(entry.light)
        pages.write(entry)
    rows = pages.rows
    ended = {row.entry.light for row in rows if isinstance(row.entry, LightCame)}
    unfinished = [row.entry for row in rows if isinstance(row.entry, Intent) and row.entry.light not in ended]
    kept = that_tell(iter(rows), unfinished)
    assert [row.number for row in kept] == sorted(row.number for row in kept)
    assert file_unfinished(kept, unfinished, [], boot, 9 * MS) == file_unfinished(rows, unfinished, [], boot, 9 * MS)
    assert check_cut(kept) == check_cut(rows)
    assert paper_lay_ns(kept, boot, 9 * MS, 100) == paper_lay_ns(rows, boot, 9 * MS, 100)
    assert stood_at_enlarger(kept, None) == stood_at_enlarger(rows, None)
    loaded = [row for row in rows if isinstance(row.entry, Loaded)]
    assert [row for row in kept if isinstance(row.entry, Loaded)] == loaded


def test_of_a_thousand_lights_that_are_over_one_is_kept() -> None:
    """A long evening's lights do not stand in memory together at the next start: the last one is enough."""
    pages = Pages(boot="boot-1")
    for number in range(1000):
        pages.write(intent(f"run-{number}", "a"), came(f"run-{number}", 2_000))
    assert that_tell(iter(pages.rows), []) == [pages.rows[-1]]
