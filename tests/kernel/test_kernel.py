"""Light on lines of a real kernel, judged by the kernel's own trace of them, and a USB pedal at its input devices.

The kernel is emulated and gives no promise of time: order and end are judged, moments to 5 ms and only against what
the programs themselves noted, and how long a rescue took not at all.
"""

from __future__ import annotations

import errno
from collections.abc import Callable

import pytest
from kernel.conftest import Scene
from kernel.traced import Traced, changes, marks, sets
from tools.feet import closures, downs

MS = 1_000_000
NEAR = 5 * MS
AROUND = 20 * MS
SLOW = 50 * MS
LAMP, LID = 17, 23
Give = Callable[[str], Scene]


def levels(events: list[Traced]) -> list[int]:
    return [event.level for event in events]


def near(scene: Scene, found: int, least: int, most: int, *, moments: tuple[int, ...], early: int = 0) -> None:
    """Hold a moment to 5 ms; too early is wrong, and a little late, or a machine held up just then, is not judged.

    Emulated, a keeper goes round some ten times slower, and is late where the witness of idle time saw nothing. By
    `early` it may be too early, and is not judged either: a span whose beginning was late, a bounce that was not seen.
    """
    if least - NEAR <= found <= most + NEAR:
        return
    held = [gap for gap in scene["held_up"] if any(gap[0] - AROUND < at < gap[1] + AROUND for at in moments)]
    told = f"{found / MS} ms where {least / MS} to {most / MS} were due"
    assert held or least - early <= found <= most + SLOW, told
    pytest.skip(f"kernel lines: the emulated machine was slow, so moments are not judged ({told}, held up {held})")


def skip_without_evdev(scene: Scene) -> None:
    if "skipped" in scene.notes:
        pytest.skip(f"kernel pedals: {scene['skipped']}")


def test_the_library_alone_blips(scene: Give) -> None:
    """The control case: an active-low output that the pin library opens by itself is first driven to its active level.

    It is also made a floating input first. Were this not seen, the checks of the start below could not fail.
    """
    plain = scene("plain_library")
    assert levels(sets(plain.trace, plain["line"]))[:2] == [0, 1]
    assert "in" in {event.did for event in plain.trace if event.line == plain["line"]}


@pytest.mark.parametrize("name", ["start_active_low", "start_active_high"])
@pytest.mark.parametrize("line", ["lamp", "safelight", "room_light", "status_led", "alive"])
def test_every_output_is_at_rest_from_its_first_moment(scene: Give, name: str, line: str) -> None:
    """Opening and letting go of the lines never drives an output but to its level at rest, and makes none an input."""
    start = scene(name)
    pin, rest = start["pins"][line], start["rests"][line]
    driven = sets(start.trace, pin)
    assert driven, f"the {line} was never driven"
    assert set(levels(driven)) == {rest}
    assert "in" not in {event.did for event in start.trace if event.line == pin}
    assert start["levels"][line] == rest


def test_a_press_that_bounces_is_one_press(scene: Give) -> None:
    """Bounces on both edges make one foot-down at the first contact, and chatter shorter than a foot makes none.

    A closing shorter than the emulated kernel takes to look at the line is one that it never tells of: the foot then
    came up with an earlier opening of the same bounce, and the moment is not judged.
    """
    foot = scene("foot")
    if "slow" in foot.notes:
        pytest.skip(f"kernel lines: {foot['slow']}")
    moves = [(at, closed) for at, closed in foot["moves"]]
    (wanted,) = downs(moves, moves[-1][0], foot["hold_ns"])
    (heard,) = foot.heard("FootDown")[foot["before"] : foot["after"]]
    ends = dict(foot["moved"])
    assert wanted.opened is not None
    near(foot, heard["first_ns"], wanted.first, ends[wanted.first], moments=(wanted.first,))
    (released,) = [up for up in foot.heard("FootUp") if up["seq"] == heard["seq"]]
    let_go = max(closures(moves, moves[-1][0]), key=lambda span: span[1] - span[0])[1]
    bounced = wanted.opened - let_go
    near(foot, released["opened_ns"], wanted.opened, ends[wanted.opened], moments=(wanted.opened,), early=bounced)


def test_a_press_ends_the_light(scene: Give) -> None:
    """A press in a light drives the lamp's line dark, and for good."""
    foot = scene("foot")
    on, off = changes(foot.trace, LAMP)
    assert (on.level, off.level, foot["level"]) == (1, 0, 0)
    assert on.at_ns < foot["pressed"] < off.at_ns
    assert [dark["why"] for dark in foot.heard("Dark")] == ["foot"]


def test_a_sheet_by_foot_gives_its_lights_in_order(scene: Give) -> None:
    """A soft and a hard light, printed by foot with `treadle serve`, are two lights of their lengths on the line.

    Each comes a lead-in after its own press, and none without one. The lines are those of the wiring file.
    """
    sheet = scene("split_grade")
    edges = changes(sheet.trace, LAMP)
    assert levels(edges) == [1, 0, 1, 0]
    for number, (on, off) in enumerate(zip(edges[::2], edges[1::2], strict=True), start=1):
        asked = marks(sheet.trace, f"light {number}")[-1]
        before, after = (next(at for at in marks(sheet.trace, text) if at > asked) for text in ("press", "pressed"))
        lead_in = on.at_ns - sheet["lead_in_ms"] * MS
        near(sheet, lead_in, before, after, moments=(before, on.at_ns))
        planned = round(sheet["lights"][number - 1][1] * 1000) * MS
        near(sheet, off.at_ns - on.at_ns, planned, planned, moments=(on.at_ns, off.at_ns), early=SLOW)


def test_the_service_ends_dark_and_well(scene: Give) -> None:
    """Told to end by its service manager, `treadle serve` leaves its lamp dark and ends without a fault."""
    sheet = scene("split_grade")
    assert (sheet["status"], sheet["level"]) == (0, 0), sheet["printed"]
    assert "Wiring: " in sheet["printed"]


def test_what_is_on_record_is_what_the_line_gave(scene: Give) -> None:
    """The journal's lights begin and end where the kernel saw the line driven, to 5 ms."""
    sheet = scene("split_grade")
    edges = changes(sheet.trace, LAMP)
    assert [came["why"] for came in sheet["came"]] == ["complete", "complete"]
    for came, on, off in zip(sheet["came"], edges[::2], edges[1::2], strict=True):
        assert came["least_ns"] == came["most_ns"]
        for edge, at_ns in ((on, came["on_ns"]), (off, came["on_ns"] + came["most_ns"])):
            near(sheet, edge.at_ns, at_ns, at_ns, moments=(edge.at_ns,))


def test_a_line_that_keeps_its_level_is_darkened_by_the_next_keeper(scene: Give) -> None:
    """After SIGKILL of the keeper the lamp stays lit, until another keeper drives its line dark."""
    killed = scene("keeper")
    on, off = changes(killed.trace, LAMP)
    assert (on.level, on.pid) == (1, killed["first"])
    assert [level for _, level in killed["between"]] == [1, 0], "the line did not keep its level"
    assert off.at_ns > killed["killed"]
    assert off.level == 0
    assert off.pid == killed["second"] != killed["first"]
    assert killed["level"] == 0


def test_least_and_most_bracket_what_a_killed_keeper_gave(scene: Give) -> None:
    """What the slate tells of the interrupted light brackets the kernel's truth."""
    killed = scene("keeper")
    on, off = changes(killed.trace, LAMP)
    (back,) = killed.heard("KeeperBack")
    told = back["interrupted"]
    assert told["least_ns"] - NEAR <= off.at_ns - on.at_ns <= told["most_ns"] + NEAR


def test_a_killed_daemon_leaves_the_line_dark(scene: Give) -> None:
    """After SIGKILL of the daemon its keeper itself drives the line dark and ends."""
    killed = scene("daemon_killed")
    on, off = changes(killed.trace, LAMP)
    assert off.at_ns > killed["killed"]
    assert {on.pid, off.pid} == {killed["keeper"]}
    assert killed["ended"]
    assert killed["level"] == 0


def test_dark_is_driven_after_both_were_killed(scene: Give) -> None:
    """After SIGKILL of daemon and keeper the line stays lit, and `treadle dark`, as after a service, darkens it."""
    killed = scene("both_killed")
    assert killed["left"] == 1, "the line did not keep its level"
    on, off = changes(killed.trace, LAMP)
    assert off.pid not in killed["gone"]
    assert off.at_ns > killed["called"] > on.at_ns
    assert (killed["status"], killed["said"], killed["level"]) == (0, "", 0)


@pytest.mark.parametrize("name", ["living", "hung"])
def test_dark_is_driven_though_a_keeper_holds_the_line(scene: Give, name: str) -> None:
    """`treadle dark` has a keeper that holds the lamp lit go dark, or puts a hung one away, and the lamp stays dark."""
    dark = scene("dark_beside_keeper")
    told = dark[name]
    assert (told["status"], told["said"], told["level"], dark["level"]) == (0, "", 0, 0)
    events = [event for event in dark.trace if event.at_ns <= told["finished"]]
    last = changes(events, LAMP)[-1]
    assert last.level == 0
    assert told["called"] < last.at_ns
    by_itself = last.pid == told["keeper"]
    assert by_itself is (name == "living"), "a living keeper darkens its own line; a hung one cannot"


def test_a_pedal_is_a_foot_beside_the_wired_one(scene: Give) -> None:
    """A USB pedal ends a light; missing, pulled out or back again, it never keeps the wired foot from being heard."""
    pedal = scene("pedal")
    skip_without_evdev(pedal)
    on, off = changes(pedal.trace, LAMP)
    assert on.at_ns < pedal["pressed"] < off.at_ns
    assert [dark["why"] for dark in pedal.heard("Dark")] == ["foot"]
    assert (pedal["level"], pedal["seqs"]) == (0, [1, 2, 3, 4])
    assert pedal["taken"], "the pedal's key goes to whoever else listens as well"
    assert pedal["taken_again"]


def test_a_second_keeper_is_refused(scene: Give) -> None:
    """A second keeper on the same lines leaves with a sentence that names the line, and touches nothing."""
    second = scene("keeper")
    assert second["status"] == 3
    assert "line busy: the lamp line on GPIO 17" in second["said"]
    assert "Traceback" not in second["said"]
    assert second["level_after_second"] == 1, "the light of the first was disturbed"
    before = [event for event in sets(second.trace, LAMP) if event.at_ns < second["killed"]]
    assert {event.pid for event in before} == {second["first"]}
    assert levels(changes(before, LAMP)) == [1]


def test_an_open_lid_ends_focus_light(scene: Give) -> None:
    """Opening the paper box in a focus light drives the lamp dark, no light comes while it is open, and then again."""
    lid = scene("lid")
    edges = changes(lid.trace, LAMP)
    assert levels(edges) == [1, 0, 1, 0]
    assert edges[0].at_ns < lid["opened"] < edges[1].at_ns
    assert [dark["why"] for dark in lid.heard("Dark")] == ["lid", "complete"]
    assert [refused["reason"] for refused in lid.heard("Refused")] == ["box is open"]


# ---- a USB pedal by itself


@pytest.fixture
def pedal_alone(scene: Give) -> Scene:
    played = scene("pedal_alone")
    skip_without_evdev(played)
    return played


def test_a_press_has_the_kernels_moments(pedal_alone: Scene) -> None:
    """Down and up carry the kernel's own moments on the monotonic clock; the repeats between them say nothing."""
    assert pedal_alone["rang"]
    assert [closed for _, closed in pedal_alone["edges"]] == [True, False]
    for (at_ns, _), (before, after) in zip(
        pedal_alone["edges"], (pedal_alone["pressed"], pedal_alone["released"]), strict=True
    ):
        assert before // 1000 * 1000 <= at_ns <= after


def test_nobody_else_hears_it(pedal_alone: Scene) -> None:
    """A pedal is grabbed: another program can neither grab it too nor hear its keys."""
    assert pedal_alone["grabbed twice"] == errno.EBUSY
    assert [closed for _, closed in pedal_alone["down"]] == [True]
    assert pedal_alone["others hear"] == 0


def test_pulled_out_under_the_foot_it_is_open(pedal_alone: Scene) -> None:
    """A pedal that goes away while it is down rings, and counts as open from then on."""
    assert pedal_alone["rang at the end"]
    ((at_ns, closed),) = pedal_alone["pulled out"]
    assert not closed
    assert pedal_alone["pulled out at"][0] <= at_ns <= pedal_alone["pulled out at"][1]
    assert len(pedal_alone["missing then"]) == 1


def test_put_back_it_is_heard_again(pedal_alone: Scene) -> None:
    """The pedal that comes back, by the same name, is opened and heard without a new start."""
    assert pedal_alone["missing at first"] == pedal_alone["missing at last"] == []
    ((at_ns, closed),) = pedal_alone["edges again"]
    assert closed
    assert pedal_alone["pressed again"][0] // 1000 * 1000 <= at_ns <= pedal_alone["pressed again"][1]
