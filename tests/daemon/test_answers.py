"""What pages ask of the runner, and the snapshots they are shown: in virtual time, without a web."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest
from tools.foot_bench import MS, FootBench, one_step, rhythm_plan, sheet_plan

from controller.daemon.answers import Answers, Snapshots
from controller.daemon.recipe_shelf import RecipeShelf
from controller.errors import Impossible, NotThere, WrongMoment
from controller.foot import acts
from controller.foot.acts import Act
from controller.foot.snapshot import NAMES
from controller.foot.state import Habits
from controller.foot.status import PlaceName, Status
from controller.recipe.plan import Plan
from controller.store.entries import Loaded
from controller.store.entries import Trouble as TroubleRow
from controller.store.said_of_sheets import Remark
from controller.store.shelf import Shelf
from controller.words import say
from hardware.sounds import Cue
from hardware.timing import Timing
from hardware.wire import Greeting, Trouble


class Desk:
    """Answers around a world in virtual time, with a shelf."""

    def __init__(self, shelf: Shelf, plan: Plan | None = None, **more: object) -> None:
        self.foot = FootBench(plan or sheet_plan(one_step(), one_step(2, 8000)), **more)  # type: ignore[arg-type]
        self.library = RecipeShelf(shelf, lambda: 600_000)
        self.board = Snapshots()
        self.waiting: list[Callable[[], object]] = []
        self.between = 0
        runner = self.foot.world.runner
        self.answers = Answers(
            runner, self.board, self.library, self.foot.world.clock, self.waiting.append, self._between
        )
        self.answers.begin(practice=True, greeting=greeting(), opened_ns=None)

    def _between(self) -> None:
        self.between += 1

    def settle(self) -> None:
        """Do what was put off until the present word is dealt with."""
        while self.waiting:
            self.waiting.pop(0)()

    def do(self, act: Act, number: int | None = None) -> Status:
        self.foot.run(0)
        told = self.answers.do(act, self.status.number if number is None else number)
        self.foot.run(0)
        self.settle()
        return told

    @property
    def status(self) -> Status:
        return self.board.latest()


def greeting(scheduling: str = "fifo", at_ns: int = 0) -> Greeting:
    return Greeting(1, 1, "virtual", at_ns, True, ("lamp",), ("sounder",), scheduling, False, "{}", True)


def recipe(seconds: float = 5.0, filter_: str = "soft") -> str:
    return json.dumps(
        {"format": "treadle/recipe/1", "title": "One", "light": [{"filter": filter_, "seconds": seconds}], "local": []}
    )


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    with Shelf.open(tmp_path / "shelf.db") as opened:
        yield opened


@pytest.fixture
def desk(shelf: Shelf) -> Desk:
    return Desk(shelf)


# ---- snapshots


def test_every_place_has_a_name_and_every_name_a_place() -> None:
    """Pages know exactly the places in which the grammar can stand."""
    assert sorted(NAMES.values()) == sorted(get_args(PlaceName))


def test_the_snapshot_follows_the_foot(desk: Desk) -> None:
    """Every change is hung up at once: lead-in with its moment, light with its length, what was given and is left."""
    first = desk.foot.press()
    status = desk.status
    assert status.place == "lead-in"
    assert status.stop_possible
    assert status.due_ns == desk.foot.at(first + 2000)
    desk.foot.run_to(first + 2000)
    status = desk.status
    assert (status.place, status.open, status.sheet_number) == ("light", True, 1)
    assert status.lit is not None
    assert (status.lit.kind, status.lit.lit_ms) == ("step", 10_000)
    desk.foot.run(4000)
    desk.foot.press()
    status = desk.status
    assert (status.place, status.stop_possible, status.lit) == ("held", False, None)
    assert [(line.state, line.given_most_ms) for line in status.steps] == [("held", 4025), ("to come", 0)]
    assert status.next is not None
    assert (status.next.number, status.next.of, status.next.remaining_ms) == (1, 2, 5975)
    assert "6.0" in status.headline


@pytest.mark.parametrize("chosen", [True, False])
def test_every_snapshot_of_an_evening_has_a_headline(shelf: Shelf, chosen: bool) -> None:
    """Wherever things stand, one sentence says what is asked of the printer."""
    desk = Desk(shelf, rhythm_plan(2), chosen=chosen, filter_in="")
    seen: dict[str, str] = {}
    watch = desk.foot.world.runner.watchers.changed

    def changed(before: object, after: object, effects: object) -> None:
        watch(before, after, effects)  # type: ignore[arg-type]
        seen[desk.status.place] = desk.status.headline

    desk.foot.world.runner.watchers.changed = changed
    for gesture in (desk.foot.press, desk.foot.hold, desk.foot.hold, desk.foot.double, desk.foot.press):
        gesture()
        desk.foot.run(3100)
        gesture()
        desk.foot.run(1500)
    assert len(seen) >= 3
    assert all(headline.endswith((".", "?")) or ". " in headline for headline in seen.values()), seen


def test_what_is_possible_is_possible(desk: Desk) -> None:
    """Every verb a snapshot offers is carried out, and the others of a dark moment are refused."""
    verbs: dict[str, Act] = {
        "call given": acts.CallGiven(),
        "leave out": acts.LeaveOut(),
        "no light": acts.NoLight(),
        "close": acts.CloseSheet(),
        "more burn": acts.MoreBurn(filter="soft", seconds=1.0),
    }
    for name, act in verbs.items():
        fresh = Desk(desk.library._shelf)
        with pytest.raises(WrongMoment):
            fresh.do(act)
        assert name not in fresh.status.can
        fresh.foot.hold_step()
        assert name in fresh.status.can
        fresh.do(act)
    assert "start" not in desk.status.can


def test_a_sound_is_heard_only_where_it_can_mean_nothing(desk: Desk) -> None:
    """By day, with nothing lit, the sounder says what is asked for; else it says nothing, and that is told."""

    def heard() -> list[tuple[str, int]]:
        return [(cue.cue, cue.count) for cue in desk.board.cues(0)]

    with pytest.raises(WrongMoment):
        desk.answers.hear(Cue.ALARM, 0)
    desk.do(acts.PaperAway())
    before = heard()
    desk.answers.hear(Cue.ALARM, 0)
    desk.answers.hear(Cue.NUMBER, 3)
    desk.foot.run(1)
    assert heard()[len(before) :] == [("alarm", 0), ("number", 3)]
    desk.do(acts.AskFocus())
    with pytest.raises(WrongMoment):
        desk.answers.hear(Cue.TICK, 0)
    desk.do(acts.PaperOut())
    desk.foot.run(6000)
    desk.do(acts.PaperAway())
    desk.foot.world.runner.change_habits(sounder=False)
    with pytest.raises(WrongMoment, match="No sounder"):
        desk.answers.hear(Cue.TICK, 0)


# ---- numbers


def test_an_act_on_an_old_snapshot_is_refused(desk: Desk) -> None:
    """What was decided on another snapshot than the present one is refused with a sentence."""
    old = desk.status.number
    desk.foot.hold_step()
    assert desk.status.number > old
    with pytest.raises(WrongMoment, match="Something happened"):
        desk.do(acts.CloseSheet(), old)
    assert desk.status.open


def test_a_remark_can_be_written_at_any_time(desk: Desk) -> None:
    """Words about a sheet wait for no snapshot; in a light they wait for dark to be filed."""
    desk.foot.light(100)
    desk.do(acts.WriteRemark(sheet=desk.status.sheet, text="too soft"), number=0)
    assert desk.foot.journal.of(Remark) == []
    desk.foot.press()
    assert [remark.text for remark in desk.foot.journal.of(Remark)] == ["too soft"]


# ---- loading


def test_loading_is_filed_and_asks_for_the_filter(desk: Desk) -> None:
    """What is loaded becomes the next sheet; the filter has to be said, and the journal knows."""
    kept = desk.library.save(recipe(filter_="hard"))
    status = desk.do(acts.Load(source=kept.id))
    assert (status.place, status.filter_wanted, status.filter_in) == ("change filter", "hard", "")
    assert status.plan is not None
    assert (status.plan.source, status.plan.version) == (kept.id, 1)
    assert desk.foot.journal.of(Loaded)[-1].source == kept.id
    assert desk.library.kept("recipe")[0].id == kept.id


def test_loading_is_refused_while_a_sheet_is_open(desk: Desk) -> None:
    """With a sheet open loading is refused, and nothing is filed."""
    kept = desk.library.save(recipe())
    desk.foot.hold_step()
    with pytest.raises(WrongMoment, match="Close it first"):
        desk.do(acts.Load(source=kept.id))
    assert desk.foot.journal.of(Loaded) == []


def test_loading_what_is_not_there_is_refused(desk: Desk) -> None:
    """An unknown recipe is refused; things stand as before."""
    with pytest.raises(NotThere):
        desk.do(acts.Load(source="zzzzzzzz"))
    assert desk.status.place == "ready"


def test_putting_down_chooses_nothing(desk: Desk) -> None:
    """What was chosen can be put down with no sheet open; the journal knows, so a restart loads nothing."""
    assert desk.do(acts.PutDown()).place == "nothing chosen"
    assert desk.foot.journal.of(Loaded)[-1].source == ""


def test_a_new_version_of_what_is_loaded_is_the_next_sheet_s(desk: Desk) -> None:
    """With none open, saving what is loaded makes the new version the next one, its filter still in."""
    kept = desk.library.save(recipe())
    desk.do(acts.Load(source=kept.id))
    desk.foot.run(2000)
    desk.foot.press()
    desk.foot.run(4000)
    assert desk.status.place == "ready"
    desk.library.save(recipe(7.0), kept.id)
    status = desk.answers.saved(desk.library.plan(kept.id))
    assert (status.place, status.filter_in) == ("ready", "soft")
    assert status.plan is not None
    assert (status.plan.version, status.steps[0].planned_ms) == (2, 7000)


def test_an_edit_while_a_sheet_is_open_waits_for_the_next_sheet(desk: Desk) -> None:
    """With a sheet open an edit never touches it: the new version comes when it is closed."""
    kept = desk.library.save(recipe())
    desk.do(acts.Load(source=kept.id))
    desk.foot.run(2000)
    desk.foot.press()
    desk.foot.run(4000)
    desk.foot.hold_step(2000)
    desk.library.save(recipe(7.0), kept.id)
    desk.answers.saved(desk.library.plan(kept.id))
    assert desk.status.steps[0].planned_ms == 5000
    desk.foot.give()
    desk.foot.hold()
    desk.settle()
    assert (desk.status.open, desk.status.steps[0].planned_ms) == (False, 7000)
    assert desk.foot.sheet.plan.version == 1


def test_settings_change_between_sheets_only(desk: Desk) -> None:
    """Changed settings wait until no sheet is open and nothing is lit."""
    desk.foot.hold_step()
    desk.answers.settle_changes()
    assert desk.between == 0
    desk.do(acts.CloseSheet())
    assert desk.between >= 1
    habits = replace(desk.foot.state.habits, lag_ms=120)
    desk.answers.take_over(habits)
    assert isinstance(desk.foot.state.habits, Habits)
    assert desk.foot.state.habits.lag_ms == 120


# ---- sheets


def test_a_burn_that_cannot_be_is_refused_by_a_sentence(desk: Desk) -> None:
    """One more burn needs exactly one of stops and seconds, and a base for stops."""
    desk.foot.hold_step()
    for act in (
        acts.MoreBurn(filter="soft"),
        acts.MoreBurn(filter="soft", stops="1", seconds=2.0),
        acts.MoreBurn(filter="hard", stops="1"),
        acts.MoreBurn(filter="soft", seconds=100_000.0),
    ):
        with pytest.raises(Impossible):
            desk.do(act)
    assert len(desk.status.steps) == 2
    assert desk.do(acts.MoreBurn(filter="soft", stops="1/2", area="B")).steps[2].added


def test_closing_says_so_and_forgets_when_it_was_opened(desk: Desk) -> None:
    """The open sheet's first light is known while it is open; after the close the page says which was closed."""
    desk.foot.hold_step()
    opened = desk.answers.opened_ns
    assert opened is not None
    desk.do(acts.CloseSheet())
    assert desk.answers.opened_ns is None
    assert desk.status.just_given == say("foot.closed", number=1)
    assert desk.status.sheet_number is None


# ---- day and white light


def test_the_day_face_lasts_fifteen_minutes(desk: Desk) -> None:
    """“All paper is away” gives the day face for fifteen minutes; it ends at that moment, with nobody looking."""
    desk.do(acts.PaperAway())
    assert desk.status.day_until_ns == desk.foot.now_ns + 15 * 60_000 * MS
    desk.foot.run(15 * 60_000 - 1)
    before = desk.board.latest()
    assert before.day_until_ns is not None
    assert "paper out" in before.can
    desk.foot.run(1)
    after = desk.board.latest()
    assert after.day_until_ns is None
    assert after.number == before.number + 1
    assert after.at_ns == before.day_until_ns
    assert "paper out" not in after.can


def test_use_renews_the_day_face_and_looking_does_not(desk: Desk) -> None:
    """A page that is used has its fifteen minutes anew, on the same snapshot; what is only looked at ends in time."""
    day_ns = 15 * 60_000 * MS
    desk.do(acts.PaperAway())
    number = desk.status.number
    desk.foot.run(10 * 60_000)
    assert desk.answers.used().day_until_ns == desk.foot.now_ns + day_ns
    assert desk.status.number == number
    desk.foot.run(15 * 60_000 - 1)
    assert desk.status.day_until_ns is not None
    desk.foot.run(1)
    assert desk.status.day_until_ns is None


def test_use_begins_no_day_face(desk: Desk) -> None:
    """Where the day face is away, was ended, or may not be, use of a page does not bring it."""
    assert desk.answers.used().day_until_ns is None
    desk.do(acts.PaperAway())
    desk.do(acts.PaperOut())
    assert desk.answers.used().day_until_ns is None
    desk.do(acts.PaperAway())
    desk.foot.press()
    assert desk.answers.used().day_until_ns is None


def test_paper_out_ends_the_day_face(desk: Desk) -> None:
    """“Paper out” makes every page dark again."""
    desk.do(acts.PaperAway())
    assert desk.do(acts.PaperOut()).day_until_ns is None


def test_light_ends_the_day_face_and_an_open_sheet_refuses_it(desk: Desk) -> None:
    """A lead-in takes the day face away at once; with a sheet open it cannot be had, and why is said."""
    desk.do(acts.PaperAway())
    desk.foot.press()
    assert desk.status.day_until_ns is None
    desk.foot.run(3000)
    desk.foot.press()
    desk.foot.run(2000)
    assert desk.status.day_refused
    with pytest.raises(WrongMoment):
        desk.do(acts.PaperAway())


def test_white_light_is_asked_for_from_the_day_face_only(desk: Desk) -> None:
    """The phone asks for focus light from the day face: the same question, answered by a hold of the foot."""
    with pytest.raises(WrongMoment):
        desk.do(acts.AskFocus())
    desk.do(acts.PaperAway())
    assert "ask focus" in desk.status.can
    assert desk.do(acts.AskFocus()).place == "white light?"
    desk.foot.hold()
    assert desk.status.place == "white-light warning"
    assert desk.status.stop_possible


def test_a_day_face_that_is_over_asks_for_no_white_light(desk: Desk) -> None:
    """After its fifteen minutes the day face counts no more, even where nobody has looked."""
    desk.do(acts.PaperAway())
    desk.foot.run(15 * 60_000)
    with pytest.raises(WrongMoment):
        desk.do(acts.AskFocus())


# ---- troubles


def test_troubles_are_sentences_and_at_most_five(desk: Desk) -> None:
    """A trouble is shown as a sentence, filed once, and makes room for newer ones."""
    desk.foot.world.runner.take(Trouble("keeper.unreadable", desk.foot.now_ns), desk.foot.now_ns)
    assert desk.status.troubles == (say("foot.trouble-unreadable"),)
    assert [row.what for row in desk.foot.journal.of(TroubleRow)] == ["keeper.unreadable"]
    for n in range(7):
        desk.answers.trouble(f"The backup could not be written for the {n}th time: make room.")
    assert len(desk.status.troubles) == 5
    desk.answers.trouble("The backup could not be written for the 6th time: make room.")
    assert len(desk.status.troubles) == 5


def test_a_keeper_that_is_away_is_shown_and_mended_by_its_greeting(desk: Desk) -> None:
    """While the keeper is away the page says so; the next greeting mends that, and what it can mend."""
    desk.answers.lost("gone")
    assert desk.status.keeper == "away"
    desk.answers.lost("start")
    assert say("foot.trouble-late-dark") in desk.status.troubles
    desk.answers.greeted(greeting())
    assert desk.status.keeper == "ready"
    assert desk.status.troubles == ()


def test_without_real_time_priority_the_page_says_so(desk: Desk) -> None:
    """A keeper without real-time priority is named in a sentence."""
    desk.answers.greeted(greeting("other"))
    assert desk.status.troubles == (say("foot.trouble-realtime"),)
    assert not desk.status.realtime


def test_a_full_card_is_named_until_a_light_is_armed(desk: Desk) -> None:
    """What the card refused stays on the page until a light could be armed again."""
    desk.foot.journal.full = True
    desk.foot.press()
    desk.foot.run(1000)
    assert "the card is full: make room" in desk.status.troubles
    desk.foot.journal.full = False
    desk.foot.run(1000)
    assert desk.status.place == "ready"
    desk.foot.press()
    assert desk.status.troubles == ()


def test_a_slow_card_is_named_until_the_next_light(shelf: Shelf) -> None:
    """An order that came too late because of a slow card is explained on the page; the next light takes that away."""
    busy: list[int] = []
    desk = Desk(shelf, busy_ns=lambda: busy.pop(0) * MS if busy else 0)
    busy.append(2300)
    desk.foot.world.tell(Trouble("keeper.dropped", desk.foot.now_ns))  # any word: the runner is busy after it
    desk.foot.press()
    desk.foot.run(4000)
    assert say("foot.trouble-slow-card") in desk.status.troubles
    desk.foot.light(10)
    assert say("foot.trouble-slow-card") not in desk.status.troubles


def test_an_open_box_is_named_where_it_refuses_a_step(shelf: Shelf) -> None:
    """A step that is refused because the paper box is open says so on the page."""
    desk = Desk(shelf, lid=True)
    desk.foot.lid(shut=False)
    desk.foot.press()
    assert say("foot.box-open") in desk.status.troubles
    desk.foot.lid(shut=True)
    desk.foot.run(1000)
    desk.foot.light(10)
    assert desk.status.troubles == ()


def test_a_step_longer_than_the_longest_light_is_named(shelf: Shelf) -> None:
    """A step that was compiled before the longest light was set shorter is refused with a sentence."""
    desk = Desk(shelf, sheet_plan(one_step(1, 20_000)), timing=Timing(longest_light_ms=15_000))
    desk.foot.press()
    assert say("foot.trouble-too-long") in desk.status.troubles
