"""The darkroom put together: opened, worked, changed, closed and opened again, with a real keeper on practice lines."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from tools.daemon_bench import SHORT, Bench, bench, until
from tools.feet import MS

import controller.daemon.in_force
import controller.daemon.inbox
from controller.backup.dated import backup
from controller.daemon.darkroom import Darkroom
from controller.daemon.takeover import Left
from controller.errors import KeeperGone, NotThere, StoreTrouble, Unreadable, WrongMoment
from controller.foot import acts
from controller.foot.events import KeeperWent
from controller.foot.state import Foot
from controller.store.entries import Intent, LightCame, Loaded, Started, Trouble
from controller.store.folder import DataFolder
from controller.store.settings import Settings
from hardware.errors import KeeperAway
from hardware.fitting import Fitting
from hardware.practice.faults import PracticeFault
from hardware.tether.tether import Tether
from hardware.wire import Accepted, FootDown, Greeting
from hardware.wiring import read_wiring
from hardware.wiring_tables import PLAIN

pytestmark = pytest.mark.usefixtures("by_real_time")


@pytest.fixture
def darkroom(tmp_path: Path) -> Iterator[Bench]:
    with bench(tmp_path) as opened:
        yield opened


def strip() -> str:
    return json.dumps(
        {
            "format": "treadle/strip/1",
            "title": "Short strip",
            "filter": "2",
            "times": {"kind": "seconds", "step": 0.2, "bands": 3},
            "card": "cover",
            "pace": "press",
            "lens": {"focal_mm": 150, "aperture": 8},
            "head_height_mm": 620,
        }
    )


# ---- opening


def test_a_new_darkroom_is_ready_and_asks_for_something_to_print(darkroom: Bench) -> None:
    """Opened on an empty folder: the keeper is ready, nothing is chosen, samples lie on the shelf."""
    status = darkroom.desk.status()
    assert (status.place, status.keeper, status.practice, status.open) == ("nothing chosen", "ready", True, False)
    assert darkroom.desk.recipes().kept("strip")
    assert darkroom.desk.recipes().kept("recipe")
    health = darkroom.desk.health()
    assert (health.ok, health.keeper, health.practice) == (True, "ready", True)
    assert len(darkroom.desk.key()) == 32


def test_a_journal_and_a_shelf_that_are_gone_are_told(tmp_path: Path) -> None:
    """Files that are not there while a backup has rows of both: new ones are begun, and it is said and filed."""
    with bench(tmp_path) as opened:
        opened.load(0.2)
    data = DataFolder(tmp_path / "data")
    name = backup(data, date(2026, 3, 1)).name
    data.journal.unlink()
    data.shelf.unlink()
    with bench(tmp_path) as opened:
        until(lambda: len([words for words in opened.desk.status().troubles if name in words]) == 2)
        told = [row.entry.what for row in opened.rows() if isinstance(row.entry, Trouble)]
    assert ["journal" in words or "shelf" in words for words in told if name in words] == [True, True]


def test_one_daemon_owns_a_folder(darkroom: Bench, tmp_path: Path) -> None:
    """A second darkroom on the same data is refused with a sentence, and the first goes on."""
    other = Darkroom(DataFolder(tmp_path / "data"), darkroom.darkroom._fitting)
    with pytest.raises(StoreTrouble) as refusal:
        other.open()
    assert len(str(refusal.value).split()) > 4
    darkroom.load(0.2)
    darkroom.begin_light()


def test_lines_that_cannot_be_had_are_refused_and_leave_nothing(tmp_path: Path) -> None:
    """Where the keeper does not come up the darkroom says why, and data and threads are let go."""
    run = tmp_path / "run"
    run.mkdir()
    lines: dict[str, object] = {"kind": "practice", "runtime": str(run), "wiring": {**PLAIN, "lamp": "no table"}}
    fitting = Fitting(read_wiring(PLAIN, "wiring.toml"), lines, run, practice=True)
    refused = Darkroom(DataFolder(tmp_path / "data"), fitting)
    with pytest.raises(KeeperAway, match="“lamp” is no table"):
        refused.open()
    with bench(tmp_path) as opened:
        assert opened.desk.health().ok


def test_closing_twice_does_nothing(tmp_path: Path) -> None:
    """A darkroom may be closed again."""
    opened = Bench(tmp_path)
    opened.darkroom.close()
    opened.close()


def test_closing_in_a_light_makes_dark_and_files_it(tmp_path: Path) -> None:
    """Closed in a light: dark at once, the light on record, and the sheet stands open at the next start."""
    with bench(tmp_path) as opened:
        opened.load(5.0)
        opened.begin_light()
        time.sleep(0.2)
    with bench(tmp_path) as again:
        status = again.desk.status()
        assert (status.place, status.open, status.sheet_number) == ("open after a restart", True, 1)
        (light,) = again.lights()
        assert status.steps[0].given_most_ms == pytest.approx((light[1] - light[0]) / MS, abs=5)
        assert status.steps[0].given_least_ms == status.steps[0].given_most_ms
        assert "1" in status.headline
        time.sleep(0.3)
        assert len(again.lights()) == 1
        again.press()
        again.wait_for("change filter")
        again.begin_light()
        again.desk.stop()
        until(lambda: again.desk.status().place == "held" or None)
        assert len(again.lights()) == 2


def test_a_press_after_the_word_to_end_brings_no_light(darkroom: Bench) -> None:
    """Told to end, the darkroom may take its time with what else must be let go; a foot begins no light meanwhile."""
    darkroom.load(5.0)
    darkroom.get_ready()
    darkroom.darkroom.darken()
    darkroom.rest()
    darkroom.press()
    time.sleep((darkroom.timing.lead_in_ms + 200) / 1000)
    assert darkroom.lights() == []
    assert darkroom.place() in ("ready", "held")


def test_what_was_loaded_is_loaded_again(tmp_path: Path) -> None:
    """After a restart with no sheet open, what was loaded last is chosen, and its filter has to be said."""
    with bench(tmp_path) as opened:
        source = opened.load(0.2)
    with bench(tmp_path) as again:
        status = again.desk.status()
        assert status.place == "change filter"
        assert status.plan is not None
        assert status.plan.source == source
        again.do(acts.PutDown())
    with bench(tmp_path) as third:
        assert third.place() == "nothing chosen"


def test_paper_is_put_away_first_after_a_restart_too(tmp_path: Path) -> None:
    """A hold soon after a sheet was closed asks for no white light, though the daemon was started anew meanwhile."""
    timing = replace(SHORT, after_close_ms=10_000)
    with bench(tmp_path, timing=timing) as opened:
        opened.load(0.2)
        opened.begin_light()
        opened.wait_for("finished")
        opened.do(acts.CloseSheet())
    with bench(tmp_path, timing=timing) as again:
        again.wait_for("change filter")
        again.rest()
        again.hold()
        seen = set()
        while len(seen) < 2 and time.monotonic_ns() < again.rows()[-1].at_ns + 500 * MS:
            seen.add(again.place())
        assert seen == {"change filter"}
    with bench(tmp_path, timing=replace(SHORT, after_close_ms=1)) as later:
        later.wait_for("change filter")
        later.rest()
        later.hold()
        later.wait_for("white light?")


def test_every_start_is_on_record(tmp_path: Path) -> None:
    """Each start files a row with the settings in force and the sheet that was open."""
    for _ in range(2):
        with bench(tmp_path) as opened:
            rows = opened.rows()
    started = [row.entry for row in rows if isinstance(row.entry, Started)]
    assert len(started) == 2
    assert all(entry.practice for entry in started)
    assert rows[-1].setup


# ---- working


def test_a_whole_sheet_by_foot(darkroom: Bench) -> None:
    """Filter, light, filter, light, close: a two-filter sheet without a hand, and its record."""
    darkroom.load(0.3, filters=("soft", "hard"))
    darkroom.begin_light()
    darkroom.wait_for("change filter")
    assert darkroom.desk.status().filter_wanted == "hard"
    darkroom.begin_light()
    darkroom.wait_for("finished")
    darkroom.rest()
    darkroom.hold()
    again = darkroom.wait_for("ready").next
    assert again is not None
    assert again.filter == "hard", "the next sheet begins with the filter that is in"
    (session,) = darkroom.desk.sheets().sessions
    (line,) = session.sheets
    assert (line.number, line.outcome, line.given_ms) == (1, "complete", 600)
    record = darkroom.desk.record(line.id)
    assert [step.given_most_ms for step in record.steps] == [300, 300]
    lit = [off - on for on, off in darkroom.lights()]
    assert [part.most_ns for step in record.steps for part in step.parts] == pytest.approx(lit, abs=MS)


def test_the_stop_of_a_page_goes_past_everything(darkroom: Bench) -> None:
    """STOP makes dark although the runner is busy with something slow."""
    darkroom.load(20.0)
    darkroom.begin_light()
    darkroom.darkroom._inbox.call(lambda: time.sleep(0.5))
    begun = time.monotonic_ns()
    darkroom.desk.stop()
    darkroom.wait_lit(False)
    assert (darkroom.lights()[0][1] - begun) / MS < 100
    darkroom.wait_for("held")


def test_an_act_that_was_told_as_failed_brings_no_light_later(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A start from the phone that nobody took in time is not carried out once the runner goes on."""
    monkeypatch.setattr(controller.daemon.inbox, "ANSWER_S", 0.2)
    with bench(tmp_path, start_from_phone="true") as opened:
        opened.load(5.0)
        opened.get_ready()
        opened.rest()
        hung = opened.darkroom._inbox.call(lambda: time.sleep(0.8))
        with pytest.raises(KeeperGone):
            opened.do(acts.StartStep())
        hung.result(5)
        time.sleep((opened.timing.lead_in_ms + 200) / 1000)
        assert opened.place() == "ready"
        assert opened.lights() == []


@pytest.mark.parametrize("broken", [False, True], ids=["hangs", "is broken"])
def test_the_page_is_seen_though_nobody_ends_the_day(
    darkroom: Bench, broken: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A runner that hangs, or is broken, when the day face's time is over keeps no page from being looked at."""
    darkroom.do(acts.PaperAway())
    room, answers = darkroom.darkroom, darkroom.darkroom._answers

    def over() -> None:
        room._runner.state = replace(room._runner.state, day_until_ns=time.monotonic_ns() - 1)
        answers.publish()
        assert go_on.wait(20)

    go_on = threading.Event()
    hung = room._inbox.call(over)
    if broken:
        monkeypatch.setattr(room._runner, "take", None)
        room._inbox.put(Accepted("no light"))
        go_on.set()
        until(lambda: room._snapshots.latest().place == "fault" or None)
    else:
        until(lambda: ((day := room._snapshots.latest().day_until_ns) and day < time.monotonic_ns()) or None)
    day_until_ns = room.desk.status().day_until_ns
    assert day_until_ns is not None
    assert day_until_ns < time.monotonic_ns(), "the page takes that for the dark face"
    assert hung.done() is broken
    go_on.set()


def test_an_act_on_an_old_snapshot_is_refused(darkroom: Bench) -> None:
    """Every act carries the snapshot it was decided on."""
    number = darkroom.desk.status().number
    darkroom.load(0.2)
    with pytest.raises(WrongMoment):
        darkroom.desk.do(acts.PutDown(), number)


def test_news_ends_a_wait(darkroom: Bench) -> None:
    """Whoever waits for news is told as soon as there is any."""
    darkroom.load(0.2)
    darkroom.get_ready()
    darkroom.rest()
    before = darkroom.desk.status().number
    pressing = threading.Timer(0.05, lambda: darkroom.press())
    pressing.start()
    assert darkroom.desk.wait(before, 5.0).number > before
    pressing.join()


def test_a_strip_is_picked_from_and_becomes_a_recipe(darkroom: Bench) -> None:
    """Strip, pick, recipe: the record links the strip's sheet to what its pick made."""
    kept = darkroom.desk.recipes().save(strip())
    darkroom.do(acts.Load(source=kept.id))
    for _ in range(3):
        darkroom.begin_light()
        darkroom.wait_for("ready", "finished")
    sheet = darkroom.desk.status().sheet
    meaning = darkroom.desk.recipes().meaning(darkroom.desk.record(sheet), 2, between=False)
    assert meaning.not_offered is None
    assert meaning.look_for
    darkroom.do(acts.CloseSheet())
    darkroom.do(acts.Pick(sheet=sheet, band=2))
    record = darkroom.desk.record(sheet)
    (pick,) = record.picks
    assert (pick.band, pick.seconds) == (2, 0.4)
    kept = darkroom.desk.recipes().fetch(pick.recipe)
    assert (kept.version, kept.title) == (pick.recipe_version, meaning.title)
    assert kept.title == f"Short strip, 0.4 s, filter 2 (sheet {record.number})"
    darkroom.do(acts.Pick(sheet=sheet, band=1, title=" by the window "))
    assert darkroom.desk.recipes().fetch(darkroom.desk.record(sheet).picks[-1].recipe).title == "by the window"
    with pytest.raises(Unreadable):
        darkroom.do(acts.Pick(sheet=sheet, band=1, title="turned \u202e round"))
    assert len(darkroom.desk.record(sheet).picks) == 2


def test_a_pick_into_what_is_loaded_is_for_the_next_sheet(darkroom: Bench) -> None:
    """Between sheets the version that a pick makes of the loaded recipe is loaded; with one open, after its close."""
    kept = darkroom.desk.recipes().save(strip())
    darkroom.do(acts.Load(source=kept.id))
    for _ in range(3):
        darkroom.begin_light()
        darkroom.wait_for("ready", "finished")
    sheet = darkroom.desk.status().sheet
    darkroom.do(acts.CloseSheet())
    darkroom.do(acts.Pick(sheet=sheet, band=1))
    recipe = darkroom.desk.record(sheet).picks[-1].recipe
    plan = darkroom.do(acts.Load(source=recipe)).plan
    assert plan is not None
    assert (plan.version, plan.steps[0].planned_ms) == (1, 200)
    plan = darkroom.do(acts.Pick(sheet=sheet, band=2, recipe=recipe)).plan
    assert plan is not None
    assert (plan.source, plan.version, plan.steps[0].planned_ms) == (recipe, 2, 400)
    loaded = [row.entry for row in darkroom.rows() if isinstance(row.entry, Loaded)]
    assert (loaded[-1].source, loaded[-1].version) == (recipe, 2)
    darkroom.begin_light()
    darkroom.wait_for("finished")
    plan = darkroom.do(acts.Pick(sheet=sheet, band=3, recipe=recipe)).plan
    assert plan is not None
    assert (plan.version, plan.steps[0].planned_ms) == (2, 400)
    darkroom.do(acts.CloseSheet())
    until(lambda: (now := darkroom.desk.status().plan) and now.version == 3)


def test_a_look_makes_the_next_sheet_s_times(darkroom: Bench) -> None:
    """How a closed print looked is filed with the recipe's next version, and that is what stands ready."""
    darkroom.load(0.4, 0.2, filters=("2",))
    before = darkroom.desk.status().plan
    assert before is not None
    for _ in before.steps:
        darkroom.begin_light()
        darkroom.wait_for("ready", "finished")
    sheet = darkroom.desk.status().sheet
    with pytest.raises(WrongMoment):
        darkroom.do(acts.Looked(sheet=sheet, light=-2, dark=-2))
    assert darkroom.desk.record(sheet).looked == ()
    darkroom.do(acts.CloseSheet())
    darkroom.do(acts.Looked(sheet=sheet, light=-2, dark=-2))
    (looked,) = darkroom.desk.record(sheet).looked
    assert (looked.light, looked.dark, looked.recipe, looked.recipe_version) == (-2, -2, before.source, 2)
    after = darkroom.desk.status().plan
    assert after is not None
    assert (after.source, after.version) == (before.source, 2)
    assert after.steps[0].planned_ms > before.steps[0].planned_ms
    with pytest.raises(NotThere):
        darkroom.do(acts.Looked(sheet="zzzzzzzz", light=0, dark=0))


def test_a_remark_needs_a_sheet_that_is_there(darkroom: Bench) -> None:
    """Words can be written on a sheet that light has opened, and on no other."""
    with pytest.raises(NotThere):
        darkroom.do(acts.WriteRemark(sheet="zzzzzzzz", text="lost"))
    darkroom.load(0.2)
    darkroom.begin_light()
    darkroom.wait_for("finished")
    sheet = darkroom.desk.status().sheet
    darkroom.do(acts.WriteRemark(sheet=sheet, text="a little more"))
    assert darkroom.desk.record(sheet).remarks == ("a little more",)


def test_a_remark_is_changed_taken_back_and_put_back(darkroom: Bench) -> None:
    """Each is a row of its own, and all that it said stays; what is not new, or not there, is no row."""
    darkroom.load(0.2)
    darkroom.begin_light()
    darkroom.wait_for("finished")
    sheet = darkroom.desk.status().sheet
    for text in ("first", "second"):
        darkroom.do(acts.WriteRemark(sheet=sheet, text=text))
    darkroom.do(acts.ChangeRemark(sheet=sheet, remark=2, text="second, dry"))
    assert darkroom.desk.record(sheet).remarks == ("first", "second, dry")
    for _ in range(2):
        darkroom.do(acts.TakeBackRemark(sheet=sheet, remark=2))
    assert darkroom.desk.record(sheet).remarks == ("first",)
    darkroom.do(acts.ChangeRemark(sheet=sheet, remark=2, text="second, dry"))
    record = darkroom.desk.record(sheet)
    assert record.all_remarks[1].said == ("second", "second, dry", "", "second, dry")
    with pytest.raises(NotThere):
        darkroom.do(acts.TakeBackRemark(sheet=sheet, remark=3))
    found = darkroom.desk.find().sheets("dry").sheets
    assert [line.id for line in found] == [sheet]
    assert darkroom.desk.find().sheets("nothing").sheets == ()


def test_the_practice_switches_are_the_room_s(darkroom: Bench) -> None:
    """The practice page's foot, drawer and lid are those of the simulated darkroom, and its view shows the light."""
    practice = darkroom.desk.practice()
    assert practice is not None
    practice.put_filter("hard")
    practice.contact(True)
    view = practice.view()
    assert (view.filter_in_drawer, view.contact_closed, view.lit) == ("hard", True, False)
    practice.contact(False)
    practice.lid(True)
    assert practice.view().lid_open
    practice.lid(False)
    darkroom.load(5.0)
    darkroom.begin_light()
    assert practice.view().lit
    time.sleep(0.1)
    darkroom.desk.stop()
    darkroom.wait_for("held")
    given_s = darkroom.desk.status().steps[0].given_most_ms / 1000
    assert practice.view().light_s == pytest.approx(
        given_s, abs=0.05
    )  # keeper and room read the clock one after the other


def test_a_chattering_contact_is_still_a_foot(darkroom: Bench) -> None:
    """With the contact's chatter switched on a press still ends a light, within 80 ms of its first contact."""
    darkroom.load(20.0)
    darkroom.begin_light()
    time.sleep(0.1)
    darkroom.room.fault(PracticeFault.CONTACT_CHATTERS)
    first = darkroom.press(80)
    darkroom.wait_lit(False)
    assert (darkroom.lights()[0][1] - first) / MS < 80
    darkroom.room.fault(PracticeFault.CONTACT_CHATTERS, False)


# ---- settings


def test_settings_count_at_once_with_no_sheet_open(tmp_path: Path) -> None:
    """Changed settings of the foot count at once; the next keeper takes presses from its first."""
    with bench(tmp_path, timing=None) as opened:
        opened.load(0.5)
        opened.do(acts.PutDown())
        before = opened.darkroom._pipe.tether
        changed = opened.desk.change_settings({"lead_in_seconds": "1.3", "lamp_lag_seconds": "0.1"})
        assert (changed.lead_in_seconds, changed.lamp_lag_seconds) == (1.3, 0.1)
        assert opened.darkroom._pipe.tether is not before
        opened.load(0.5)
        time.sleep(0.1)
        opened.press(60)
        opened.wait_for("settling")
        opened.wait_for("ready", seconds=5)
        time.sleep(0.6)
        first = opened.press(60)
        opened.wait_for("light")
        on = opened.room.edges()[-1].at_ns
        assert (on - first) / MS == pytest.approx(1300, abs=20)
        opened.wait_for("finished")
        (intent,) = [row.entry for row in opened.rows() if isinstance(row.entry, Intent)]
        assert (intent.lag_ms, intent.lit_ms) == (100, 500)


def test_a_keeper_that_comes_while_the_darkroom_closes_is_let_go(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Closed in the moment in which changed settings bring another keeper, the darkroom leaves none behind."""
    with bench(tmp_path, timing=None) as opened:
        starting, go_on, start = threading.Event(), threading.Event(), Tether.start

        def slow(tether: Tether) -> object:
            starting.set()
            assert go_on.wait(5)
            return start(tether)

        monkeypatch.setattr(Tether, "start", slow)
        changing = threading.Thread(
            target=opened.desk.change_settings, args=({"lead_in_seconds": "1.3"},), name="a page"
        )
        changing.start()
        assert starting.wait(5)
        releasing = threading.Timer(0.3, go_on.set)
        releasing.start()
        opened.darkroom.close()
        for thread in (changing, releasing):
            thread.join(5)
        assert not opened.room.owned()
        assert opened.darkroom._pipe.tether is None


def test_a_keeper_that_is_lost_before_the_runner_goes_round_is_put_on_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A lost keeper's word from before the runner's thread began is filed by that thread, and breaks nothing."""
    begin = Darkroom._start_runner

    def late(darkroom: Darkroom, left: Left, greeting: Greeting) -> None:
        darkroom._inbox.put(KeeperWent(greeting.at_ns, "start"))
        begin(darkroom, left, greeting)

    monkeypatch.setattr(Darkroom, "_start_runner", late)
    with bench(tmp_path) as opened:
        until(lambda: any(isinstance(row.entry, Trouble) for row in opened.rows()) or None)
        assert opened.place() != "fault"
        assert opened.try_to(acts.PaperAway())


def test_a_press_of_the_last_keeper_does_not_count_at_the_next(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A press just before changed settings bring another keeper is forgotten with the one that heard it."""
    with bench(tmp_path, timing=None) as opened:
        with monkeypatch.context() as patched:
            close = Tether.close

            def closing(tether: Tether) -> None:
                close(tether)
                now_ns = time.monotonic_ns()
                opened.darkroom._inbox.put(FootDown(7, now_ns, now_ns))

            patched.setattr(Tether, "close", closing)
            opened.desk.change_settings({"lead_in_seconds": "1.3"})
        pipe, runner = opened.darkroom._pipe, opened.darkroom._runner
        until(lambda: (pipe.tether is not None and pipe._known == pipe.tether.greeting.pid) or None)
        opened.darkroom._inbox.ask(lambda: None)
        assert runner.state.foot == Foot(), "an order with the number of another keeper's press would be refused"


def test_settings_that_no_keeper_takes_are_a_fault_and_no_light(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where no keeper comes up with changed settings, the page says so and nothing can be lit."""

    def away(_tether: Tether) -> None:
        raise KeeperAway("no memory")

    with bench(tmp_path, timing=None) as opened:
        opened.load(0.5)
        monkeypatch.setattr(Tether, "start", away)
        opened.desk.change_settings({"lead_in_seconds": "1.3"})
        opened.wait_for("fault")
        assert opened.desk.status().keeper == "fault"
        opened.press(60)
        time.sleep(0.3)
        assert opened.desk.status().place == "fault"
        assert not opened.room.edges()
        with pytest.raises(KeeperGone):
            opened.do(acts.PutDown())


def test_settings_wait_for_an_open_sheet(darkroom: Bench) -> None:
    """With a sheet open changed settings are kept, and count once it is closed."""
    darkroom.load(5.0)
    darkroom.begin_light()
    darkroom.desk.stop()
    darkroom.wait_for("held")
    darkroom.desk.change_settings({"lamp_lag_seconds": "0.2"})
    assert darkroom.darkroom._runner.state.habits.lag_ms == 0
    darkroom.do(acts.CloseSheet())
    until(lambda: darkroom.darkroom._runner.state.habits.lag_ms == 200 or None)


def test_a_setting_that_cannot_be_is_refused_and_changes_nothing(darkroom: Bench) -> None:
    """A wrong value is refused by a sentence; the settings in force stay."""
    with pytest.raises(Unreadable, match="lamp_lag_seconds"):
        darkroom.desk.change_settings({"lamp_lag_seconds": "9"})
    assert darkroom.desk.settings() == Settings()


def test_two_phones_may_change_settings_at_once(darkroom: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """What one phone sets while another one's change is being kept is not undone by it."""
    keeping, go_on, keep = threading.Event(), threading.Event(), controller.daemon.in_force.keep_settings

    def slow(*given: object) -> object:
        if not keeping.is_set():
            keeping.set()
            go_on.wait(0.3)  # in vain, where one waits for the other
        return keep(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(controller.daemon.in_force, "keep_settings", slow)

    def second() -> None:
        assert keeping.wait(5)
        darkroom.desk.change_settings({"lamp_lag_seconds": "0.2"})
        go_on.set()

    other = threading.Thread(target=second)
    other.start()
    darkroom.desk.change_settings({"start_from_phone": "true"})
    other.join(10)
    now = darkroom.desk.settings()
    assert (now.start_from_phone, now.lamp_lag_seconds) == (True, 0.2)


def test_settings_outlive_a_restart(tmp_path: Path) -> None:
    """What was set is set at the next start."""
    with bench(tmp_path) as opened:
        opened.desk.change_settings({"start_from_phone": "true"})
    with bench(tmp_path) as again:
        assert again.desk.settings().start_from_phone
        assert again.desk.status().start_from_phone


def test_the_phone_starts_a_step_where_that_is_set(tmp_path: Path) -> None:
    """“Start from the phone” begins the same lead-in; at the foot's next press it is over."""
    with bench(tmp_path, start_from_phone=True) as opened:
        opened.load(0.3)
        opened.get_ready()
        opened.rest()
        asked = time.monotonic_ns()
        assert opened.do(acts.StartStep()).place == "lead-in"
        opened.wait_for("light")
        assert (opened.room.edges()[-1].at_ns - asked) / MS >= SHORT.lead_in_ms
        opened.wait_for("finished")
        assert _given(opened) == [300]


def _given(opened: Bench) -> list[int]:
    facts = [row.entry for row in opened.rows() if isinstance(row.entry, LightCame)]
    return [round(fact.most_ns / MS) for fact in facts]


def test_lag_is_made_up_for_by_a_real_keeper(tmp_path: Path) -> None:
    """With a lag of 0.1 s a held step's parts give its plan's full light, as a lamp with that lag would."""
    from hardware.practice.meter import LampModel

    with bench(tmp_path, lamp_lag_seconds=0.1) as opened:
        opened.load(0.9, 0.5)
        opened.begin_light()
        time.sleep(0.3)
        opened.desk.stop()
        opened.wait_for("held")
        opened.begin_light()
        opened.wait_for("ready")
        received = opened.room.light_ns(0, time.monotonic_ns(), LampModel(lag_ms=100)) / MS
        assert received == pytest.approx(800, abs=4)
        assert opened.desk.status().steps[0].given_most_ms == pytest.approx(900, abs=1)


# ---- faults


def test_a_runner_that_breaks_is_dark_and_says_so(darkroom: Bench) -> None:
    """Whatever breaks the runner: dark at once, a fault that says what to do, and acts are answered."""
    darkroom.load(20.0)
    darkroom.begin_light()
    runner = darkroom.darkroom._runner

    def broken(*_: object) -> None:
        raise ZeroDivisionError

    runner.watchers.changed = broken
    darkroom.room.press(30)
    darkroom.wait_lit(False)
    status = until(lambda: s if (s := darkroom.desk.status()).place == "fault" else None)
    assert "Start Treadle again" in status.headline
    with pytest.raises(KeeperGone, match="Start Treadle again"):
        darkroom.do(acts.CloseSheet())


def test_a_light_in_which_the_runner_broke_is_on_record_at_the_next_start(tmp_path: Path) -> None:
    """The fact that a broken runner did not file is found at the next start, exactly."""
    with bench(tmp_path) as opened:
        opened.load(20.0)
        opened.begin_light()
        opened.darkroom._runner.watchers.changed = lambda *_: 1 / 0  # type: ignore[assignment]
        opened.room.press(30)
        opened.wait_lit(False)
        until(lambda: opened.place() == "fault" or None)
    with bench(tmp_path) as again:
        ((on, off),) = again.lights()
        assert again.place() == "open after a restart"
        assert again.desk.status().steps[0].given_most_ms == pytest.approx((off - on) / MS, abs=5)


def test_a_chore_s_trouble_is_shown_in_its_own_words(darkroom: Bench) -> None:
    """What the nightly backup says of itself is shown on the page, and the runner goes on."""
    darkroom.darkroom._tell("The backup could not be written: no space left. Make room.")
    until(lambda: any("backup" in words for words in darkroom.desk.status().troubles) or None)
    darkroom.load(0.2)
    darkroom.begin_light()
    darkroom.wait_for("finished")


def test_timing_of_a_test_is_never_a_real_one_s(tmp_path: Path) -> None:
    """Spans scaled short are taken with practice lines only; the real table has its floors."""
    with pytest.raises(ValueError, match="hold_ms"):
        replace(SHORT).checked(practice=False)
