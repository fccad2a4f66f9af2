"""Random evenings of a whole darkroom in virtual time: a restless foot, a page, a lid, full cards, lost keepers.

`play` makes one from a seed and returns its history, for the judge in `laws`.
"""

from __future__ import annotations

import random
from dataclasses import replace

from controller.daemon.recovery import call_short, paper_lay_ns, reopen, set_up_last, stood_at_enlarger, white_lay_ns
from controller.daemon.runner import Runner
from controller.easel.plan import reference_plan, spots_plan
from controller.foot import acts
from controller.foot.events import Chosen, DoseTold, FootWire, KeeperCame, SpotTold
from controller.foot.page_acts import asking
from controller.foot.places import AfterRestart, LeadIn, Light, NothingChosen, Ready, is_dark
from controller.foot.state import Habits, State, Work
from controller.lamp import check_plans as plans
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Plan
from controller.store.folding import fold
from hardware.clock import ManualClock
from hardware.timing import Timing
from tools.feet import MS
from tools.foot_bench import BenchJournal, flash_plan, long_plan, one_step, rhythm_plan, sheet_plan, waits_plan
from tools.hands_laws import asking_plan
from tools.laws import History
from tools.mortal_world import MortalWorld

START = 20_000 * MS


class Darkroom(MortalWorld):
    """A darkroom in virtual time whose daemon may end and begin anew, its keeper going on."""

    @property
    def waiting(self) -> bool:
        """Whether the runner has words to take in."""
        return bool(self._inbox)

    @property
    def busy(self) -> bool:
        """Whether what is told now waits."""
        return self.clock.now_ns() < self._free_ns

    def begin_anew(self, runner: Runner) -> None:
        """Have another runner in place of the one that ended; it meets the keeper as at every start."""
        self.runner = runner
        self.keeper.greet(self.clock.now_ns())
        first = self._inbox.popleft()
        assert isinstance(first, KeeperCame)
        runner.meet(first.greeting)
        self._settle()


class Session:
    """One random evening: a world, a restless foot, a page, a lid, a card that fills up, keepers that are lost."""

    asking = 0.2
    """How often its sheets have steps without light."""

    def __init__(self, seed: int, *, lines: bool = False) -> None:
        """With `lines` soft and hard are two lamps, and a room light and an LED are fitted."""
        self.lines = lines
        self.dice = random.Random(seed)
        self.enlarger_dice = random.Random(-1 - seed)
        """Of its own: an evening goes on as it would if nothing were changed at the enlarger."""
        self.sensor_dice = random.Random(-(10**6) - seed)
        """Likewise, were there no light sensor."""
        self.hands_dice = random.Random(-3000019 - seed)
        """Likewise, were nothing ever asked of the hands."""
        dice = self.dice
        self.plan = _plan(dice)
        self.hangs = dice.choice([0.1, 0.2, 0.6])
        self.patience = dice.choice([1, 1, 3])
        slow = dice.random() < 0.3
        sounder, lid = dice.random() < 0.93, dice.random() < 0.25
        slowest = Timing(lead_in_ms=5000, hold_ms=1500, settle_ms=1000)
        timing = dice.choice([Timing(), Timing(), Timing(), Timing(lead_in_ms=1200), slowest])
        timing = replace(
            timing,
            focus_limit_ms=dice.choice([11_000, 60_000]),
            lead_in_ms=max(timing.lead_in_ms, timing.hold_ms + 400),
        )
        habits = Habits(
            timing=timing,
            lag_ms=dice.choice([0, 0, 0, 70, 120, 400]),
            sounder=sounder,
            start_from_phone=dice.random() < 0.3,
            lid_single_hold=lid and dice.random() < 0.5,
            filters="lines" if lines else "drawer",
            room_light=lines,
            room_after_close_ms=dice.choice([2000, 30_000]) if lines else 300_000,
            day_ms=dice.choice([500, 20_000, 900_000, 900_000]),
            give_dose=self.sensor_dice.random() < 0.3,
        )
        habits = self.with_trays(habits)
        self.stood: list[tuple[int, AtEnlarger]] = []
        if habits.give_dose and self.sensor_dice.random() < 0.7:
            lengths = [self.sensor_dice.randint(3900, 9000) for _ in range(3)]
            self.plan = sheet_plan(*(one_step(n, each) for n, each in enumerate(lengths, start=1)))
        if self.hands_dice.random() < self.asking:
            self.plan = asking_plan(self.hands_dice)
        self.history = History(seed, habits, slow, keepers=[0], stood=self.stood)
        chosen = dice.random() < 0.9
        self.history.source = self.plan.source
        work = Work.fresh(self.plan) if chosen else None
        drawer = self.plan.steps[0].filter if chosen and dice.random() < 0.7 else ""
        state = State(
            Ready() if chosen else NothingChosen(),
            habits,
            work,
            filter_in=drawer,
            run="v1",
            lid_open=False if lid else None,
        )
        journals: list[BenchJournal] = []

        def file(clock: ManualClock) -> BenchJournal:
            journals.append(BenchJournal(clock.now_ns))
            return journals[0]

        outlets = ("room_light", "status_led") if lines else ()
        self.world = Darkroom(state, file, lid=lid, outlets=outlets, busy_ns=self._busy if slow else lambda: 0)
        self.journal = self.history.journal = journals[0]
        self.world.run_until(START)
        self.world.runner.ask_again(START)
        self.at = START
        self.closed = False
        self.shut = True
        self.edges = 0
        self.runs = 1

    def with_trays(self, habits: Habits) -> Habits:
        """Return the habits of the evening: without trays, and without any guard in their place."""
        return habits

    def tell(self, act: acts.Act) -> None:
        """Let a page ask for something now."""
        self.world.tell(asking(self.world.runner.state, act, self.world.clock.now_ns()))

    def _busy(self) -> int:
        if self.dice.random() > self.hangs:
            return 0
        most = 2400 if self.hangs > 0.5 else self.dice.choice([5, 40, 200, 1000, 1600, 2600])
        return round(most * self.dice.random() * MS)

    # ---- one thing after another

    def play(self, edges: int) -> History:
        """Play so many raw edges of the foot contact, then let everything come to rest."""
        while self.edges < edges:
            self._wait()
            if not self.history.slow and self.enlarger_dice.random() < 0.2:
                self._change_at_enlarger()
            if self.lines and self.dice.random() < 0.12:
                self._ask_room()
            if self.history.habits.give_dose and self.sensor_dice.random() < 0.5:
                self._tell_dose()
            roll = self.dice.random()
            if roll < 0.72:
                self._gesture()
            elif roll < 0.95:
                self._page()
            else:
                self._misfortune()
        return self._end()

    def _wait(self) -> None:
        dice = self.dice
        roll = dice.random()
        due = self.world.due_ns()
        place = self.world.runner.state.place
        start = getattr(place, "start_ns", None) or getattr(place, "until_ns", None) or due
        if roll < 0.3 and start is not None and start - self.at < 20_000 * MS:
            moment = start + round(dice.choice([-65, -60, -26, -25, -1, 0, 1, 20, 499, 501]) * MS)
            moment += dice.choice([0, 0, 0, dice.randint(-MS, MS)])
        else:
            spans = [(5, 120), (60, 450), (300, 1200), (900, 2600), (2000, 7000), (7000, 70_000)]
            span = dice.randint(*dice.choices(spans, [30, 40, 40, 50, 20 * self.patience, self.patience])[0])
            moment = self.at + span * MS + dice.choice([0, 12_345])
        self._pass_to(max(moment, self.at + 1))

    def _pass_to(self, moment: int) -> None:
        """Go to just before a moment: what moves at it is fed, what is told then is told after it has been played."""
        self.world.run_until(moment - 1)
        self.at = moment

    def _arrive(self) -> int:
        """Play the present moment itself, and return it."""
        now = self.at
        self.world.run_until(now)
        self.at += 1
        return now

    def _move(self, closed: bool) -> None:
        if closed == self.closed:
            return
        self.world.room.foot.feed(self.at, closed)
        self.history.raw.append((self.at, closed))
        self.closed = closed
        self.edges += 1

    def _for(self, ms: float) -> None:
        self._pass_to(self.at + max(1, round(ms * MS)))

    def _gesture(self) -> None:
        dice = self.dice
        kinds = ["press", "hold", "double", "two holds", "long", "glitch", "chatter", "tremble", "nearly", "impatient"]
        match dice.choices(kinds, [10, 5, 4, 4, 1, 3, 3, 2, 3, 2])[0]:
            case "press":
                self._foot(dice.choice([26, 60, 110, 150, 300, 700, 780]))
            case "hold":
                self._foot(self._hold_ms())
            case "double":
                self._foot(dice.choice([40, 100, 200]))
                self._for(dice.choice([61, 100, 200, 340, 349, 351]))
                self._foot(dice.choice([40, 100, 200]))
            case "two holds":
                self._foot(self._hold_ms())
                self._for(dice.choice([70, 200, 500, 1500, 4800, 5030]))
                self._foot(self._hold_ms())
                self._for(dice.choice([100, 1000, 1990, 2000, 2100, 3000, 5000]))
            case "long":
                self._foot(dice.choice([2000, 2800, 2760, 5000, 9990, 10_100]))
            case "glitch":
                self._foot(dice.choice([0.001, 1, 5, 12, 24, 24.9]), bounces=0)
            case "chatter":
                for _ in range(dice.randint(2, 30)):
                    self._foot(dice.choice([1, 2, 3, 4, 8, 15, 24]), bounces=0)
                    self._for(dice.choice([1, 2, 2, 3, 10, 40, 59]))
            case "nearly":
                self._nearly()
            case "impatient":
                self._impatient()
            case "tremble":
                for _ in range(dice.randint(2, 6)):
                    self._foot(dice.choice([20, 30, 200]), bounces=0)
                    self._for(dice.choice([40, 59.9, 60, 60.1, 75]))

    def _tell_dose(self) -> None:
        """Let a sensor say when a light has its dose: this one or any other, sooner or later than makes sense."""
        state, dice = self.world.runner.state, self.sensor_dice
        if isinstance(place := state.place, Ready):
            self._foot(60, bounces=0)
            self._for(100)
            if isinstance(lead_in := self.world.runner.state.place, LeadIn):
                self._pass_to(max(self.at + 1, lead_in.start_ns + MS))
            state = self.world.runner.state
        if isinstance(place := state.place, Light):
            self._pass_to(max(self.at + 1, place.on_ns + round(state.lit_ms * dice.uniform(0.05, 1.02)) * MS))
        order = state.outstanding if dice.random() < 0.8 else f"v1-{dice.randint(1, 40)}"
        lit_ms = round(state.lit_ms * dice.choice([-1, 0, 0.8, 0.9, 1.0, 1.1, 1.2, 1.2599, 1.5, 50]))
        if order is not None:
            self._arrive()
            self.world.tell(DoseTold(order, lit_ms, self.world.clock.now_ns()))
        if isinstance(place, Light) and dice.random() < 0.7:
            self._pass_to(max(self.at + 1, place.on_ns + state.lit_ms * 1_300_000))

    def _nearly(self) -> None:
        """Stop the light that is on just before its end, hold for the question, and answer it or not."""
        dice = self.dice
        if isinstance(self.world.runner.state.place, Ready):
            self._foot(60, bounces=0)
            self._for(100)
        if isinstance(place := self.world.runner.state.place, LeadIn):
            self._pass_to(max(self.at + 1, place.start_ns + MS))
        state = self.world.runner.state
        if not isinstance(state.place, Light) or state.lit_ms < 900:
            self._foot(60)
            return
        self._pass_to(max(self.at + 1, state.place.on_ns + state.lit_ms * 960_000))
        self._foot(60, bounces=0)
        self._for(dice.choice([1100, 2000]))
        self._foot(self._hold_ms())
        self._for(dice.choice([100, 500, 5100]))
        self._foot(dice.choice([60, self._hold_ms()]))

    def _want_white_in_a_check(self) -> None:
        """Give the first light of a check whole, and then hold twice, as for white light."""
        self._for(2000)
        for _ in range(3):  # a filter or a lamp's card may be asked for first
            self._foot(60, bounces=0)
            self._for(1100)
            if isinstance(place := self.world.runner.state.place, LeadIn):
                self._pass_to(max(self.at + 1, place.start_ns + MS))
                break
        state = self.world.runner.state
        if state.work is None or not state.work.check or not isinstance(state.place, Light):
            return
        self._pass_to(max(self.at + 1, state.place.on_ns + state.lit_ms * MS + MS))
        self._for(self.dice.choice([1100, 3000]))
        self._foot(self.history.habits.timing.hold_ms + 60)
        self._for(self.dice.choice([200, 1500]))
        self._foot(self.history.habits.timing.hold_ms + 60)
        self._for(5000)

    def _impatient(self) -> None:
        """Press twice quickly as soon as the light that is on or announced is over."""
        due = self.world.due_ns()
        for _ in range(3):
            if due is None or due - self.at > 20_000 * MS or is_dark(self.world.runner.state.place):
                break
            self._pass_to(max(self.at + 1, due + 1))
            due = self.world.due_ns()
        self._for(self.dice.choice([100, 300]))
        self._foot(60, bounces=0)
        self._for(100)
        self._foot(60, bounces=0)

    def _hold_ms(self) -> float:
        hold = self.history.habits.timing.hold_ms
        return self.dice.choice([hold - 1, hold, hold + 1, hold + 60, hold + 150, hold + 900])

    def _foot(self, ms: float, bounces: int = 2) -> None:
        for level in (True, False):
            self._move(level)
            for _ in range(self.dice.randint(0, bounces) if self.dice.random() < 0.4 else 0):
                self._for(self.dice.choice([0.3, 1, 3]))
                self._move(not level)
                self._for(self.dice.choice([0.3, 1, 3]))
                self._move(level)
            if level and self.dice.random() < 0.15:  # a page acts while the foot is down
                share = self.dice.random()
                self._for(ms * share)
                self._page()
                self._for(ms * (1 - share))
            elif level:
                self._for(ms)

    def _page(self) -> None:
        dice, now = self.dice, self._arrive()
        kinds = ["stop", "start", "focus", "given", "leave out", "more", "no light", "close", "choose", "lid", "assume"]
        match dice.choices([*kinds, "check"], [10, 8, 4, 2, 1, 2, 1, 2, 4, 6, 2, 6])[0]:
            case "stop":
                self.history.stops.append(now)
                self.world.stop()
            case "start":
                self.history.starts.append(now)
                self.tell(acts.StartStep())
            case "focus":
                if dice.random() < 0.8:
                    self.tell(acts.PaperAway())
                self.history.asks.append(now)
                self.tell(acts.AskFocus())
                if dice.random() < 0.1:
                    self.tell(acts.PaperOut())
            case "given":
                self.tell(acts.CallGiven())
            case "leave out":
                self.tell(acts.LeaveOut())
                if now % 2:  # and is sorry for it at once
                    self.tell(acts.PutBack())
            case "more":
                work = self.world.runner.state.work
                if not self.world.busy and (
                    work is None or len(work.steps) < 40
                ):  # reckoned on the sheet as it is then
                    seconds = dice.choice([0.2, 0.7, 2.0])
                    self.tell(acts.MoreBurn(filter=dice.choice(["soft", "hard"]), seconds=seconds))
            case "no light":
                self.tell(acts.NoLight())
            case "close":
                self.history.put_down.append(now)
                self.tell(acts.CloseSheet())
            case "choose":
                plan = self.plan if dice.random() < 0.7 else _plan(dice)
                chosen = None if dice.random() < 0.1 else plan
                self.history.put_down.append(now)
                self.world.tell(Chosen(chosen, now, again=dice.random() < 0.3))
            case "check":
                check = _check(dice)
                self.history.checks.append((now, check))
                self.history.put_down.append(now)
                self.world.tell(Chosen(check, now))
                if dice.random() < 0.4:
                    self._want_white_in_a_check()
            case "lid":
                self._lid()
            case "assume":
                self.tell(acts.Assume(light="", which=dice.choice(["least", "middle", "most"])))

    def _change_at_enlarger(self) -> None:
        """Say that another negative is in the carrier, or another paper out; whether it fits the moment or not."""
        dice, now = self.enlarger_dice, self._arrive()
        title = dice.choice(["", "crane", "pier", "stones"])
        bench = AtEnlarger(negative_title=title, head_height_mm=dice.choice([None, 480.0, 620.0]))
        before = self.world.runner.state.bench
        self.tell(acts.StandAtEnlarger(bench=bench))
        if self.world.runner.state.bench != before:
            self.stood.append((now, bench))

    def _lid(self) -> None:
        lid = self.world.room.lid
        if lid is None:
            return
        self.shut = not self.shut
        lid.feed(self.at, self.shut)
        self.history.lid.append((self._arrive(), not self.shut))
        if not self.shut and self.dice.random() < 0.8:
            self._for(self.dice.choice([20, 70, 1500]))
            self._lid()

    def _misfortune(self) -> None:
        if self.dice.random() < 0.4:
            self.journal.full = True
            self._for(self.dice.choice([100, 3000, 9000]))
            self.journal.full = False
        elif self.dice.random() < (0.6 if self.world.runner.state.sheet_open else 0.2):
            self._restart()
        elif self.dice.random() < 0.2:
            self._break_wire()
        else:
            self.lose_keeper()

    def _at_rest(self) -> bool:
        """Tell whether nothing is lit or under way, and nobody has a foot down."""
        state, world = self.world.runner.state, self.world
        quiet = is_dark(state.place) and state.outstanding is None and not state.withdrawn and not state.foot.down
        return quiet and not self.closed and not world.keeper.lit and not world.performer.unfiled and not world.waiting

    def _restart(self) -> None:
        """End the daemon in the dark, and begin another one, which finds the sheet that was open."""
        self._for(self.dice.choice([1, 6000, 12_000]))
        now = self._arrive()
        if not self._at_rest():
            return
        world, rows, before = self.world, self.journal.rows, self.world.runner.state
        habits, lag_ms = before.habits, before.habits.lag_ms
        found = next((sheet for sheet in fold(rows) if sheet.outcome == "open"), None)
        if found is not None and (short := call_short(found, lag_ms)):
            self.journal.append(*short)
            found = fold(rows)[-1]
        again = None if found is None else reopen(found, lag_ms, "virtual")
        if again is not None and before.work is not None:
            self.history.reopened.append((now, before.work.given, again.work.given))
        sheets = fold(rows)
        bench = stood_at_enlarger(rows, sheets[-1] if sheets else None)
        self.stood.append((now, bench))
        set_up = set_up_last(rows, sheets[-1] if sheets else None, bench)
        self.runs += 1
        self.history.put_down.append(now)
        self.history.restarts.append(now)
        white_ns, room_ns = white_lay_ns(rows, "virtual", now, habits)
        state = State(
            NothingChosen() if again is None else AfterRestart(),
            habits,
            Work.fresh(self.plan.standing(bench)) if again is None else again.work,
            bench=bench,
            set_up=set_up,
            run=f"v{self.runs}",
            number=before.number,
            lid_open=before.lid_open,
            hold_from_ns=paper_lay_ns(rows, "virtual", now, habits.timing.after_close_ms),
            white_from_ns=white_ns,
            white_floor_ns=white_ns,
            room_from_ns=room_ns,
            room_floor_ns=room_ns,
        )
        world.begin_anew(Runner(state, world.performer, world.runner.watchers))
        if again is None:
            world.runner.ask_again(now)

    def _break_wire(self) -> None:
        """Break a wire of a changeover foot switch: nothing goes until it is released."""
        now = self._arrive()
        if self._at_rest():
            self.world.tell(FootWire(now))

    def lose_keeper(self) -> None:
        """Kill the keeper: the line keeps its level until the next one's first act, which is dark."""
        if is_dark(self.world.runner.state.place) and self.dice.random() < 0.5:
            self._foot(60)
            self._for(100)
        start_ns = getattr(self.world.runner.state.place, "start_ns", 0)
        if self.at < start_ns < self.at + 6000 * MS:
            self._pass_to(start_ns)
            self._for(self.dice.choice([1, 50, 400]))
        now = self._arrive()
        seen = now - self.dice.randint(0, self.dice.choice([50, 400, 1000])) * MS
        lamps = list(self.world.room.lamps.values())
        lamp = next((lamp for lamp in lamps if lamp.lit), lamps[0])
        if lamp.lit:
            self.history.lost.add(lamp.edges[-1].at_ns)
        self.history.keepers.append(now)
        self.world.lose_keeper(seen)
        if lamp.edges and lamp.edges[-1].at_ns == now:
            self._for(self.dice.choice([300, 1500]))
            self._arrive()
            self.tell(acts.Assume(light="", which=self.dice.choice(["least", "middle", "most"])))

    def _ask_room(self) -> None:
        """Ask for the room light, from a day face that may end very soon, or ask that it be dark."""
        now = self._arrive()
        if self.dice.random() < 0.2:
            self.tell(acts.RoomLightOff())
        else:
            self.tell(acts.PaperAway())
            self.history.room_asks.append(now)
            self.tell(acts.RoomLightOn())
        self._for(self.dice.choice([0, 30, 700, 2500, 2500]))
        if self.dice.random() < 0.2:
            self._lid()

    def _end(self) -> History:
        h, world = self.history, self.world
        self.journal.full = False
        self.hangs = 0.0
        self._for(100)
        self._move(False)
        self._for(7000)
        if not self.shut:
            self._lid()
        self._for(8000)
        h.stops.append(self._arrive())
        world.stop()
        self._for(20_000)
        h.lamp = [(edge.at_ns, edge.lit) for edge in world.room.edges()]
        h.lamps = list(world.room.edges())
        for name, moved in (("room_light", h.room), ("status_led", h.led)):
            if name in world.room.outlets:
                moved += [(edge.at_ns, edge.lit) for edge in world.room.outlets[name].edges]
        h.cues = [(cue.at_ns, str(cue.cue)) for cue in world.cues]
        h.until = self._arrive()
        return h


def _plan(dice: random.Random) -> Plan:
    each = dice.choice([100, 150, 300, 900, 1700, 2500, 4000])
    roll = dice.random()
    if roll < 0.25:
        return rhythm_plan(dice.randint(2, 6), each, dice.choice([1500, 1700, 2000, 4000]))
    if roll < 0.35:
        return long_plan((each, 2 * each), 3 * each)
    if roll < 0.42:
        return flash_plan()
    if roll < 0.47:
        return waits_plan()
    if roll < 0.55:
        return sheet_plan(one_step(1, each), one_step(2, 2 * each, "hard"), one_step(3, each, "hard"))
    base = dice.choice([None, each, 4 * each])
    return sheet_plan(*(one_step(n, each, base_ms=base) for n in range(1, dice.randint(2, 5))))


def _check(dice: random.Random) -> Plan:
    """Return a check of the lamp, as its bench loads them."""
    match dice.choice(["paper", "sensor", "reference", "warm"]):
        case "paper":
            return plans.paper_plan(plans.paper_test(long_ms=2000, pulses=dice.randint(2, 4), trains=2))
        case "sensor":
            return plans.sensor_plan()
        case "reference":
            return plans.reference_plan()
        case _:
            return plans.warm_plan(dice.choice([0.5, 2.5, 20.0]))  # no length of another check's


class Measuring(Session):
    """A session in which spots are measured again and again, and the sensor says yes or no, late or soon."""

    def _gesture(self) -> None:
        if self.dice.random() < 0.2:
            self._begin_readings()
        elif self.dice.random() < 0.3:
            self._measure()
        else:
            super()._gesture()
        self._tell_of_spot()

    def _begin_readings(self) -> None:
        """Load readings, at the right moment or not; and now and then leave them alone, or done, till they lapse."""
        dice, now = self.dice, self._arrive()
        self.tell(acts.PaperAway())
        plan = spots_plan() if dice.random() < 0.7 else reference_plan()
        self.history.checks.append((now, plan))
        self.history.put_down.append(now)
        self.world.tell(Chosen(plan, now))
        if dice.random() < 0.2:
            self._for(61_000)
        elif len(plan.steps) == 1:
            self._measure()
            self._tell_of_spot()
            self._for(dice.choice([100, 61_000]))

    def _measure(self) -> None:
        """Press for light, and press it dark after a while, or hold."""
        self._for(2000)
        self._foot(60, bounces=0)
        self._for(self.dice.choice([500, 2100, 4500]))
        self._foot(self.dice.choice([60, 60, self._hold_ms()]), bounces=0)

    def _tell_of_spot(self) -> None:
        work = self.world.runner.state.work
        if work is None or not work.readings or work.last is None:
            return
        self._for(self.dice.choice([0, 1700, 2500]))
        self.world.tell(SpotTold(work.last.light, self.dice.random() < 0.6, self._arrive()))


def play(seed: int, edges: int = 300, *, lines: bool = False, measuring: bool = False) -> History:
    """Return the history of one session; with `lines`, of one with two lamps, a room light and an LED.

    With `measuring`, of one in which spots are measured at the easel.
    """
    return (Measuring if measuring else Session)(seed, lines=lines).play(edges)
