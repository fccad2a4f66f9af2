"""A daemon that begins anew knows of no print: what may lie in the trays counts as undeveloped, white light waits."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tools.foot_bench import MS, START_MS, FootBench, sheet_plan
from tools.history import Pages, came

from controller.daemon.recovery import white_lay_ns
from controller.foot import acts
from controller.foot.state import Habits
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.entries import Closed, Intent
from controller.store.tray_rows import TrayEntered
from controller.trays.process import USUAL

S = 1_000_000_000
TRAYS = Habits(trays=True, guard_without_trays=True)
BY_FACTOR = replace(
    TRAYS, processes={**USUAL, "RC": USUAL["RC"].model_copy(update={"factor": 6.0, "drain_seconds": 60.0})}
)
LONG = replace(TRAYS, processes={**USUAL, "RC": USUAL["RC"].model_copy(update={"developer_seconds": 400.0})})
FAST = [("on its way", 0), ("developer", 10), ("drain", 20), ("stop", 30), ("fix 1", 40)]
WAY = [("on its way", 0), ("developer", 10), ("drain", 100), ("stop", 110), ("fix", 130), ("wash", 190)]


def entered(tray: str, at_s: float, by: str = "time", sheet: str = "s1", support: str = "RC") -> TrayEntered:
    values = {"sheet": sheet, "number": 1, "tray": tray, "at_ns": round(at_s * S), "by": by, "support": support}
    return TrayEntered.model_validate(values)


def closed_at(at_s: float, *rows: TrayEntered, boot: str = "boot-1") -> Pages:
    pages = Pages(boot=boot)
    pages.at_ns = round(at_s * S)
    pages.write(Closed(sheet="s1", outcome="complete"), *rows)
    return pages


@pytest.mark.parametrize("last", range(len(WAY)), ids=[name for name, _ in WAY])
def test_in_whichever_tray_it_was_white_light_waits_five_minutes_after_the_close(last: int) -> None:
    """By the usual figures five minutes are longer than any way into the fix; room light waits as long."""
    pages = closed_at(1000, *(entered(name, 1000 + after) for name, after in WAY[: last + 1]))
    assert white_lay_ns(pages.rows, "boot-1", 1200 * S, TRAYS) == (1300 * S, 1300 * S)
    assert white_lay_ns(pages.rows, "boot-2", 7 * S, TRAYS) == (307 * S, 307 * S)


def test_a_longer_way_is_waited_for_whole() -> None:
    """Where the process takes longer, by its figures from the close or by what its rows say, that counts."""
    pages = closed_at(1000, entered("on its way", 1000), entered("developer", 1010))
    assert white_lay_ns(pages.rows, "boot-1", 1100 * S, LONG) == ((1440 + 30) * S, (1440 + 60) * S)
    held = closed_at(1000, entered("on its way", 1000), entered("developer", 1010), entered("fix", 1060, "hold"))
    assert white_lay_ns(held.rows, "boot-1", 1100 * S, LONG) == ((1440 + 30) * S, (1440 + 60) * S)
    late = closed_at(1000, entered("on its way", 1000), entered("developer", 1055, "foot"))
    # in the developer at 55 s; the appearance as late as it may be, at 45 s, six times that; drain 60, stop 20, fix 30
    latest = 1055 + 6 * 45 + 60 + 20
    assert white_lay_ns(late.rows, "boot-1", 1100 * S, BY_FACTOR) == ((latest + 30) * S, (latest + 60) * S)


def test_what_is_out_of_the_trays_keeps_nothing_away() -> None:
    """By its rows it has been through them all, or the printer has said that nothing lies there: in any boot."""
    out = closed_at(1000, *(entered(name, 1000 + after) for name, after in WAY), entered("", 1310))
    said = closed_at(1000, entered("on its way", 1000), entered("", 1020, "page"))
    unknown = closed_at(1000, entered("", 1020, "page", sheet=""))
    for pages in (said, unknown):
        assert white_lay_ns(pages.rows, "boot-1", 1030 * S, TRAYS) == (0, 0)
    for pages in (out, said, unknown):
        assert white_lay_ns(pages.rows, "boot-2", 9 * S, TRAYS) == (0, 0)
    assert max(white_lay_ns(out.rows, "boot-1", 1320 * S, TRAYS)) < 1310 * S
    hasty = closed_at(1000, entered("on its way", 1000), entered("fix", 1040, "hold"), entered("", 1110))
    assert white_lay_ns(hasty.rows, "boot-1", 1120 * S, TRAYS) == (1160 * S, 1190 * S)
    assert white_lay_ns([], "boot-1", 9 * S, TRAYS) == (0, 0)


SLOW_FB = replace(TRAYS, processes={**USUAL, "FB": USUAL["FB"].model_copy(update={"developer_seconds": 600.0})})


@pytest.mark.parametrize("after", ["a quicker sheet", "one that is out", "a check's light"])
def test_what_came_after_it_lets_no_print_wait_for_less(after: str) -> None:
    """A hold brought a print on FB into the fix soon, so more was lit: its planned way is waited for all the same."""
    pages = closed_at(1000, *(entered(tray, 1000 + at, "hold", support="FB") for tray, at in FAST))
    planned = 1000 + 10 + 600 + 15 + 30
    pages.at_ns = 1100 * S
    if after == "a check's light":
        pages.write(Intent(light="c1", light_kind="check", lit_ms=100, start_ns=1100 * S), came("c1", 1_100_000, 100))
    else:
        pages.write(Closed(sheet="s2", outcome="complete"))
        way = [*WAY, ("", 310)] if after == "one that is out" else WAY[:2]
        pages.write(*(entered(tray, 1100 + at, sheet="s2") for tray, at in way))
    assert white_lay_ns(pages.rows, "boot-1", 1420 * S, SLOW_FB) == ((planned + 60) * S, (planned + 60) * S)
    said = [*pages.rows, *closed_at(1430, entered("", 1430, "page", sheet="")).rows[1:]]
    assert white_lay_ns(said, "boot-1", 1440 * S, SLOW_FB) == (0, 0)
    assert max(white_lay_ns(pages.rows, "boot-2", 9 * S, SLOW_FB)) <= 309 * S


def test_without_trays_it_is_five_minutes() -> None:
    """By time: 300 s after the close, or from now after a power cut; a hurried practice darkroom hurries that too."""
    by_time = Habits(guard_without_trays=True)
    pages = closed_at(1000)
    assert white_lay_ns(pages.rows, "boot-1", 1030 * S, by_time) == (1300 * S, 1300 * S)
    assert white_lay_ns(pages.rows, "boot-2", 9 * S, by_time) == (309 * S, 309 * S)
    assert white_lay_ns(pages.rows, "boot-1", 1030 * S, replace(by_time, hurry=20)) == (1015 * S, 1015 * S)
    assert white_lay_ns(pages.rows, "boot-1", 1030 * S, Habits())[0] == 0


def test_the_guard_over_a_restart_ends_by_itself_or_by_the_page_s_word() -> None:
    """A state that begins with a guard refuses white light, and says when it is safe."""
    for said in (False, True):
        bench = FootBench(sheet_plan())
        bench.world.runner.change_habits(trays=True)
        until = bench.at(50_000)
        state = replace(bench.state, white_from_ns=until, white_floor_ns=until)
        bench.world.runner.state = replace(state, due_ns=until)
        assert bench.do(acts.PaperAway()) == "trays.white-not-yet"
        bench.hold()
        assert bench.cues()[-1] == "no"
        if said:
            assert bench.do(acts.NoPaperInTrays()) is None
            assert bench.journal.of(TrayEntered)[-1].by == "page"
            assert white_lay_ns(bench.journal.rows, "virtual", bench.now_ns, TRAYS) == (0, 0)
        else:
            bench.run_to(50_800)
            assert bench.cues()[-1] == "white light is safe"
        assert bench.do(acts.PaperAway()) is None


def test_an_open_sheet_s_remainder_is_not_blocked_after_a_restart() -> None:
    """What was given is carried on with, whatever may lie in the trays: no white light comes of it."""
    bench = FootBench(sheet_plan())
    bench.world.runner.change_habits(trays=True)
    bench.hold_step(4000)
    until = (START_MS + 500_000) * MS
    bench.world.runner.state = replace(bench.state, white_from_ns=until, white_floor_ns=until)
    bench.light(100)
    assert bench.lit
    assert bench.state.bench == AtEnlarger()


def test_a_print_that_was_to_be_developed_for_longer_is_waited_for() -> None:
    """Its row says how long it was to lie in the developer: 10 + 280 + 10 + 20 s to the fix on RC, and 30 in it."""
    row = entered("on its way", 1000).model_copy(update={"developer_seconds": 280.0})
    pages = closed_at(1000, row)
    assert white_lay_ns(pages.rows, "boot-1", 1001 * S, TRAYS)[0] == (1000 + 10 + 280 + 10 + 20 + 30) * S
