"""A sheet after its close: through the trays by time, by press and by hold, and no white light before the fix."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from tools.foot_bench import MS, FootBench, one_step, sheet_plan

from controller.foot import acts
from controller.foot.events import Chosen
from controller.foot.places import AskWhite, ChangeFilter, Focus, HandsAsked, LeadIn, NothingChosen, Ready, Settling
from controller.foot.snapshot import Facts, describe
from controller.foot.tray_words import as_of
from controller.lamp import check_plans
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import read_recipe
from controller.store.entries import Closed
from controller.store.tray_rows import TrayEntered
from controller.trays.journey import WAITS_NS
from controller.trays.process import USUAL, Process

S = 1000
BY_FACTOR = USUAL["RC"].model_copy(update={"factor": 6.0})


def bench_with(
    process: Process | None = None, *, support: str = "RC", steps: int = 1, lid: bool = False, **habits: Any
) -> FootBench:
    """Return a bench whose paper is on `support`, its trays followed."""
    plan = sheet_plan(*(one_step(n, 3000) for n in range(1, steps + 1)))
    bench = FootBench(plan, lid=lid, outlets=("room_light",))
    processes = {**USUAL, process.support: process} if process else USUAL
    bench.world.runner.change_habits(**{"trays": True, "processes": processes, **habits})
    bench.do(acts.StandAtEnlarger(bench=AtEnlarger.model_validate({"support": support})))
    return bench


def closed(bench: FootBench) -> float:
    """Give the sheet its light and close it; return when it was closed, in ms of the bench."""
    bench.give()
    first = bench.hold(850)
    return first + bench.timing.hold_ms


def rows(bench: FootBench) -> list[tuple[str, float, str]]:
    """Return the tray rows: tray, when, and by what."""
    return [(row.tray, row.at_ns / MS - 20_000, row.by) for row in bench.journal.of(TrayEntered)]


def tray(bench: FootBench) -> str:
    return bench.state.prints[-1].tray.name


# ---- by time, and the guard


@pytest.mark.parametrize(
    ("support", "way"),
    [
        ("RC", [("on its way", 0), ("developer", 10), ("drain", 100), ("stop", 110), ("fix", 130), ("wash", 190)]),
        (
            "FB",
            [
                *[("on its way", 0), ("developer", 10), ("drain", 160), ("stop", 175), ("fix 1", 205), ("fix 2", 265)],
                *[("rinse", 385), ("wash", 445), ("aid", 745), ("wash", 1345)],
            ],
        ),
    ],
)
def test_a_print_goes_through_its_trays_by_itself(support: str, way: list[tuple[str, int]]) -> None:
    """Each tray is entered at its own second after the close (the process's usual figures, added up by hand)."""
    bench = bench_with(support=support)
    at = closed(bench)
    bench.run(1800 * S)
    told = rows(bench)
    assert [(name, when) for name, when, _ in told[:-1]] == [(name, at + seconds * S) for name, seconds in way]
    assert told[-1][0] == ""
    assert not bench.state.prints
    assert [row.before_ms for row in bench.journal.of(TrayEntered)][1:3] == [10_000, way[2][1] * S - 10_000]


@pytest.mark.parametrize("factor", [None, 6.0])
def test_a_test_s_paper_is_developed_for_its_own_time(factor: float | None) -> None:
    """Whatever the process has, by the clock; its row says how long, and white light waits until it is fixed."""
    bench = bench_with(USUAL["RC"].model_copy(update={"factor": factor}))
    plan = sheet_plan(one_step(1, 3000)).model_copy(update={"develop_seconds": 200.0, "source": "test:developer"})
    bench.ask(Chosen(plan, bench.now_ns))
    bench.run(1000)
    while not isinstance(bench.place, Ready):
        bench.press()
        bench.run(4000)
    at = closed(bench)
    assert bench.state.white_from_ns == bench.at(at + (10 + 200 + 10 + 20 + 30) * S)
    bench.run(1800 * S)
    assert [when for name, when, _ in rows(bench) if name == "drain"] == [at + 210 * S]
    assert bench.journal.of(TrayEntered)[0].developer_seconds == 200.0


@pytest.mark.parametrize(("support", "seconds"), [("RC", 160), ("FB", 265), ("", 265)])
def test_white_light_waits_until_the_print_is_fixed(support: str, seconds: int) -> None:
    """160 s after the close on RC, 265 on FB (printing.md 11.4); a support that nobody has said counts as FB."""
    bench = bench_with(support=support)
    at = closed(bench)
    assert bench.state.white_from_ns == bench.at(at + seconds * S)
    bench.run_to(at + seconds * S - 3000)
    for act in (acts.PaperAway(), acts.AskFocus(), acts.RoomLightOn()):
        assert bench.do(act) == "trays.white-not-yet"
    bench.hold()
    assert not isinstance(bench.place, AskWhite)
    bench.run_to(at + seconds * S + 1)
    assert bench.do(acts.PaperAway()) is None
    bench.hold()
    assert isinstance(bench.place, AskWhite)


def test_the_room_light_waits_for_a_minute_in_the_fix() -> None:
    """It comes 190 s after a close on RC, and not before."""
    bench = bench_with()
    at = closed(bench)
    bench.run_to(at + 190 * S - 100)
    bench.do(acts.PaperAway())
    assert bench.do(acts.RoomLightOn()) == "wiring.room-not-in-fix"
    bench.run_to(at + 190 * S + 1)
    assert bench.do(acts.RoomLightOn()) is None


def test_it_is_said_once_that_white_light_is_safe() -> None:
    """The cue sounds at the moment of the guard's end, and only then."""
    bench = bench_with()
    at = closed(bench)
    bench.run_to(at + 160 * S - 1)
    assert "white light is safe" not in bench.cues()
    bench.run(2000)
    assert bench.cues().count("white light is safe") == 1
    bench.run(600 * S)
    assert bench.cues().count("white light is safe") == 1


def test_spoiled_sheets_and_paper_tests_arm_the_guard_and_other_checks_do_not() -> None:
    """Whatever had light on paper may lie in the developer; a check without paper does not."""
    bench = bench_with(steps=2)
    bench.give()
    bench.do(acts.CloseSheet())
    assert bench.journal.of(Closed)[-1].outcome == "spoiled"
    assert bench.state.white_from_ns > bench.now_ns
    for plan, arms in ((check_plans.paper_plan(check_plans.paper_test()), True), (check_plans.sensor_plan(), False)):
        bench = bench_with()
        bench.ask(Chosen(plan, bench.now_ns))
        bench.run(1000)
        while not isinstance(bench.place, Ready):
            bench.press()
            bench.run(4000)
        bench.light(100)
        bench.press()
        bench.run(3000)
        assert (bench.state.white_from_ns > bench.now_ns) is arms


# ---- one reader per foot-down


@pytest.mark.parametrize("trays", [True, False])
def test_sheets_that_are_flashed_beforehand_go_into_no_tray(trays: bool) -> None:
    """They go back into a box: no clock is begun, no bath counts them, and white light may be asked for after 10 s."""
    strip = json.dumps(
        {
            "format": "treadle/strip/1",
            "title": "Flash 2 sheets",
            "filter": "soft",
            "times": {"kind": "sheets", "seconds": 0.5, "sheets": 2},
            "card": "cover",
            "pace": "press",
        }
    )
    bench = bench_with(trays=trays, guard_without_trays=True)
    plan = compile_any(read_recipe(strip, "x"), source="x", version=1)
    assert bench.ask(Chosen(plan, bench.world.clock.now_ns())) is None
    for _ in range(12):
        if bench.state.work is not None and bench.state.work.finished:
            break
        bench.press()
        bench.run(6 * S)
    bench.hold(850)
    assert [row.outcome for row in bench.journal.of(Closed)] == ["complete"]
    assert (bench.state.prints, bench.state.white_from_ns, rows(bench)) == ((), 0, [])
    bench.run(9 * S)
    bench.hold(850)
    assert not isinstance(bench.place, AskWhite)
    bench.run(2 * S)
    bench.hold(850)
    assert isinstance(bench.place, AskWhite)


def test_a_press_that_a_print_waits_for_is_its_own() -> None:
    """By factor: the first press is “in the developer”, the second the appearance; the easel hears neither."""
    bench = bench_with(BY_FACTOR)
    at = closed(bench)
    bench.run(5000)
    first = bench.press()
    assert (tray(bench), isinstance(bench.place, Ready)) == ("developer", True)
    assert bench.state.white_from_ns == WAITS_NS
    bench.run_to(first + 12_000)
    shows = bench.press()
    print_ = bench.state.prints[-1]
    assert print_.appearance_ms == 12_000
    assert print_.until_ns == bench.at(first + 6 * 12_000)
    assert isinstance(bench.place, Ready)
    bench.run(1000)
    bench.press()
    assert isinstance(bench.place, Ready)  # light waits for the fix
    assert bench.cues(shows + 500)[-1] == "wait"
    bench.run_to(first + 72_000 + 1)
    assert rows(bench)[-1] == ("drain", first + 72_000, "time")
    assert bench.journal.of(TrayEntered)[-1].appearance_ms == 12_000
    assert bench.state.white_from_ns == bench.at(max(at + 160_000, first + 72_000 + 30_000 + 30_000))


@pytest.mark.parametrize("where", ["change filter", "hands", "settling", "nothing chosen"])
def test_while_a_press_is_awaited_no_easel_press_counts(where: str) -> None:
    """Whatever the easel asks for meanwhile, the press is the print's."""
    bench = bench_with(BY_FACTOR)
    closed(bench)
    if where == "nothing chosen":
        bench.ask(Chosen(None, bench.now_ns))
        bench.run(1000)
        bench.press()
        assert (tray(bench), isinstance(bench.place, NothingChosen)) == ("developer", True)
        return
    filters = {"change filter": "hard", "settling": "hard", "hands": "soft"}
    hands = {"hands": "negative out"} if where == "hands" else {}
    bench.ask(Chosen(sheet_plan(one_step(1, 3000, filters[where], **hands), source="other"), bench.now_ns))
    bench.run(1000)
    wanted = HandsAsked if where == "hands" and isinstance(bench.place, HandsAsked) else ChangeFilter
    assert isinstance(bench.place, wanted)
    bench.press()
    assert (tray(bench), isinstance(bench.place, wanted)) == ("developer", True)
    if where == "settling":
        bench.run(3000)
        bench.press()  # the appearance
        bench.run(1000)
        bench.press()
        assert isinstance(bench.place, Settling)


def test_an_appearance_under_two_seconds_is_refused() -> None:
    """No image shows so soon: the press is answered with “no”, and is waited for on."""
    bench = bench_with(BY_FACTOR)
    closed(bench)
    bench.run(4000)
    first = bench.press(60)
    bench.run_to(first + 1900)
    bench.press()
    assert bench.state.prints[-1].asked == "first appearance"
    assert bench.cues(first + 1900)[-1] == "no"
    bench.run(500)
    bench.press()
    assert bench.state.prints[-1].appearance_ms is not None


@pytest.mark.parametrize("gesture", ["hold", "double"])
def test_a_hold_or_double_takes_back_the_press_of_its_own_foot_down(gesture: str) -> None:
    """What the first contact said is unsaid: the print waits for its press again, or a hold has moved it on."""
    bench = bench_with(BY_FACTOR)
    at = closed(bench)
    bench.run(12_000)
    if gesture == "double":
        bench.double()
        assert (tray(bench), bench.state.prints[-1].asked) == ("on its way", "in the developer")
        bench.run(3000)
        assert rows(bench) == [("on its way", at, "hold")]  # nothing is filed that is taken back
        return
    bench.press()
    bench.run(10_000)
    first = bench.hold()
    print_ = bench.state.prints[-1]
    assert (print_.tray.name, print_.appearance_ms) == ("drain", None)
    assert rows(bench)[-1] == ("drain", first + bench.timing.hold_ms, "hold")


def test_presses_that_never_come_are_asked_for_and_then_given_up() -> None:
    """A reminder every ten seconds; after a minute, and at half of the developer's time, the print goes by time."""
    bench = bench_with(BY_FACTOR)
    at = closed(bench)
    bench.run_to(at + 59_000)
    asks = [cue.at_ns / MS - 20_000 - at for cue in bench.world.cues if cue.cue == "tray asks"]
    assert asks == [10_000, 20_000, 30_000, 40_000, 50_000]
    bench.run_to(at + 60_001)
    assert rows(bench)[-1] == ("developer", at + 60_000, "time")
    assert bench.state.white_from_ns == bench.at(at + (60 + 90 + 10 + 20 + 30) * S)
    bench.run(300 * S)

    at = closed(bench)
    bench.run(12_000)
    first = bench.press()
    bench.run_to(first + 45_001)
    assert bench.state.prints[-1].asked == ""
    bench.run_to(first + 90_001)
    assert rows(bench)[-1] == ("drain", first + 90_000, "time")


# ---- hold: next tray


def test_a_hold_is_the_next_tray_and_never_shortens_the_guard() -> None:
    """Refused for 10 s after the close, once in 10 s, never out of the fix; white light comes as it was planned."""
    bench = bench_with(USUAL["RC"].model_copy(update={"drain_seconds": 60.0, "stop_seconds": 60.0}))
    at = closed(bench)
    bench.run(5000)
    bench.hold()
    assert tray(bench) == "on its way"
    bench.run_to(at + 11_000)  # in the developer by itself
    for wanted in ("drain", "stop", "fix"):
        bench.hold()
        assert tray(bench) == wanted
        bench.run(2000)
        bench.hold()
        assert (tray(bench), bench.cues()[-1]) == (wanted, "no")
        bench.run(9000)
    assert bench.state.prints[-1].in_fix
    bench.hold()
    assert tray(bench) == "fix"
    assert bench.state.white_from_ns == bench.at(at + (10 + 90 + 60 + 60 + 30) * S)


def test_a_hold_that_brings_it_later_lengthens_the_guard() -> None:
    """The guard ends by the later of planned and actual entry: a print that was given a minute more has it more."""
    bench = bench_with(BY_FACTOR)
    at = closed(bench)
    bench.run(30_000)
    first = bench.press()
    bench.run_to(first + 40_000)
    bench.press()
    assert bench.state.white_from_ns == bench.at(first + (240 + 10 + 20 + 30) * S)
    assert bench.state.white_from_ns > bench.at(at + 160 * S)


# ---- the next sheet


def test_the_next_sheet_is_lit_once_the_one_before_is_in_the_fix() -> None:
    """Its preparation goes on; its lead-in waits, and the page's start too, and the headline says why."""
    bench = bench_with(start_from_phone=True)
    at = closed(bench)
    bench.run_to(at + 100 * S)
    bench.press()
    assert isinstance(bench.place, Ready)
    assert bench.do(acts.StartStep()) == "trays.light-not-yet"
    assert "not in the fix" in describe(bench.state, Facts(), bench.now_ns).headline
    bench.run_to(at + 130 * S + 1)
    bench.press()
    assert isinstance(bench.place, LeadIn)
    bench.run(4000)
    assert bench.state.sheet_open


def test_a_check_waits_for_the_fix_too() -> None:
    """A check's light is light: it begins no sooner than a sheet's."""
    bench = bench_with()
    at = closed(bench)
    bench.ask(Chosen(check_plans.sensor_plan(), bench.now_ns))
    bench.run(1000)
    while not isinstance(bench.place, Ready):
        bench.press()
        bench.run(4000)
    bench.press()
    assert isinstance(bench.place, Ready)
    bench.run_to(at + 131 * S)
    bench.press()
    assert isinstance(bench.place, LeadIn)


def test_with_a_sheet_open_trays_go_by_time_and_presses_are_the_easel_s() -> None:
    """Overlapping prints: a press ends the light that is on, and a hold asks to close, whatever lies in the trays."""
    bench = bench_with(steps=2)
    at = closed_both(bench)
    bench.run_to(at + 131 * S)
    bench.light(1000)
    bench.press()
    assert tray(bench) == "fix"
    bench.run(2000)
    bench.hold()
    assert describe(bench.state, Facts(), bench.now_ns).place == "close this sheet?"
    bench.run_to(at + 191 * S)
    assert tray(bench) == "wash"
    bench.hold()
    bench.hold()
    assert [print_.tray.name for print_ in bench.state.prints] == ["wash", "on its way"]
    assert bench.state.white_from_ns > bench.at(at + 191 * S + 160 * S)


def closed_both(bench: FootBench) -> float:
    bench.give()
    return closed(bench)


# ---- what is heard


def test_no_tray_is_heard_in_a_light_or_its_lead_in() -> None:
    """A cue waits for the dark, and only the newest of a print is heard then."""
    bench = bench_with(USUAL["RC"].model_copy(update={"agitation_seconds": 1.0, "fix_seconds": 300.0}))
    at = closed(bench)
    bench.run_to(at + 131_500)
    first = bench.press()
    bench.run(8000)
    off = bench.lights()[-1][1]
    heard = [cue.at_ns / MS - 20_000 for cue in bench.world.cues if cue.cue == "rock the tray"]
    assert not [moment for moment in heard if first + 30 < moment < off + 700]
    after = [moment for moment in heard if off + 700 <= moment < off + 1300]
    assert len(after) == 1


# ---- without clocks, at the page's word, and as it is told


def test_without_trays_white_light_waits_five_minutes_after_a_close() -> None:
    """By time: focus light, day face and room light wait 300 s, or for “no paper in the trays”."""
    bench = bench_with(trays=False, guard_without_trays=True)
    at = closed(bench)
    bench.run_to(at + 299 * S)
    for act in (acts.PaperAway(), acts.AskFocus(), acts.RoomLightOn()):
        assert bench.do(act) == "trays.white-not-yet"
    bench.hold()
    assert bench.cues()[-1] == "no"
    bench.run_to(at + 300 * S + 1)
    assert bench.do(acts.PaperAway()) is None
    assert not bench.state.prints


@pytest.mark.parametrize("why", ["trays by time", "a restart", "a paper test"])
def test_where_no_print_is_followed_the_next_light_waits_for_nobody(why: str) -> None:
    """White light waits by time; a sheet's own light begins with its press: the printer knows where the print is."""
    bench = bench_with(trays=why != "trays by time", guard_without_trays=True)
    if why == "a paper test":
        bench.ask(Chosen(check_plans.paper_plan(check_plans.paper_test()), bench.now_ns))
        bench.run(1000)
        while not isinstance(bench.place, Ready):
            bench.press()
            bench.run(4000)
        bench.light(100)
        bench.press()
        bench.ask(Chosen(sheet_plan(one_step(1, 3000)), bench.now_ns))
    elif why == "a restart":
        until = bench.at(300_000)
        bench.world.runner.state = replace(bench.state, white_from_ns=until, white_floor_ns=until, due_ns=until)
    else:
        closed(bench)
    bench.run(10_500)
    assert not bench.state.prints
    assert bench.state.white_from_ns > bench.now_ns
    while isinstance(bench.place, ChangeFilter | Settling):
        bench.press()
        bench.run(4000)
    bench.press()
    assert isinstance(bench.place, LeadIn)
    bench.run(5500)
    assert bench.lit or bench.state.sheet_open
    bench.run(4000)
    bench.hold(850)
    bench.run(500)
    assert bench.do(acts.PaperAway()) is not None


def test_a_state_without_habits_of_trays_is_as_it_was() -> None:
    """A replay without a process asks for white light ten seconds after a close."""
    bench = bench_with(trays=False)
    closed(bench)
    bench.run(10_500)
    bench.hold()
    assert isinstance(bench.place, AskWhite)
    assert not rows(bench)


def test_no_paper_in_the_trays_ends_guard_and_clocks() -> None:
    """The page's word is filed for each print; it is offered only where there is something to end."""
    bench = bench_with(support="FB")
    assert bench.do(acts.NoPaperInTrays()) == "foot.nothing-to-do"
    closed(bench)
    bench.run(12_000)
    assert bench.do(acts.NoPaperInTrays()) is None
    assert rows(bench)[-1][0::2] == ("", "page")
    assert not bench.state.prints
    assert bench.do(acts.PaperAway()) is None
    assert bench.do(acts.RoomLightOn()) is None
    bench = bench_with(steps=2)
    bench.give()
    assert bench.do(acts.NoPaperInTrays()) == "foot.sheet-open"


def test_a_snapshot_tells_prints_seconds_and_safe_minutes() -> None:
    """Where each print lies; the seconds to white light as of now; safe minutes from the first light to the fix."""
    bench = bench_with()
    at = closed(bench)
    lit = bench.lights()[0][0]
    bench.run_to(at + 100_500)
    status = describe(bench.state, Facts(), bench.now_ns)
    (print_,) = status.prints
    assert (print_.number, print_.tray, print_.way[print_.at]) == (1, "drain", "drain")
    assert (print_.entered_ns, print_.until_ns) == (bench.at(at + 100 * S), bench.at(at + 110 * S))
    now = status.model_copy(update=as_of(status, None, bench.now_ns, 5.0))
    assert "60 s" in now.white_refused
    assert now.day_refused == now.white_refused
    assert now.safe_left_s == int(300 - (at + 100_500 - lit) / S)
    bench.run_to(at + 131 * S)
    status = describe(bench.state, Facts(), bench.now_ns)
    assert status.model_copy(update=as_of(status, None, bench.now_ns, 5.0)).safe_left_s is None


def test_hurried_trays_go_so_many_times_as_fast_and_rows_tell_the_process_s_own_clock() -> None:
    """Twenty times as fast: white light after 8 s, and a row says 90 s in the developer."""
    bench = bench_with(hurry=20)
    at = closed(bench)
    assert bench.state.white_from_ns == bench.at(at + 8 * S)
    bench.run(12_000)
    told = bench.journal.of(TrayEntered)
    assert [row.before_ms for row in told] == [0, 10_000, 90_000, 10_000, 20_000, 60_000]
    bench = bench_with(hurry=1_000_000)
    closed(bench)
    bench.run(1)
    assert not bench.state.prints


def test_focus_light_goes_beside_a_print_that_is_fixed() -> None:
    """Two holds after the guard, and the white light is there, the print still in the wash."""
    bench = bench_with(replace_wash())
    at = closed(bench)
    bench.run_to(at + 170 * S)
    bench.focus()
    assert isinstance(bench.place, Focus)
    assert bench.state.prints


def replace_wash() -> Process:
    return USUAL["RC"].model_copy(update={"wash_seconds": 3600.0})


def test_trays_keep_their_second_over_an_hour() -> None:
    """Within 0.1 s after an hour of washing, and of a runner that is late all the time (here: exact)."""
    bench = bench_with(replace_wash())
    at = closed(bench)
    bench.run(3900 * S)
    assert abs(rows(bench)[-1][1] - (at + (190 + 3600) * S)) <= 100
