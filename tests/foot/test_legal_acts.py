"""What may be done now is decided once: what a snapshot offers is accepted, all else refused with its own key."""

from __future__ import annotations

from collections import Counter
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.evenings import Session
from tools.foot_bench import MS, FootBench, one_step, sheet_plan
from tools.setting_up import SettingUp
from tools.wet_evenings import WetSession

from controller.foot import acts, legal_acts
from controller.foot.acts import Verb
from controller.foot.effects import Refuse
from controller.foot.events import Chosen, Event
from controller.foot.legal_acts import changes_ns, offered, refusal
from controller.foot.page_acts import asking
from controller.foot.snapshot import Facts, describe
from controller.foot.state import State
from controller.foot.table import decide
from controller.recipe.at_enlarger import AtEnlarger
from controller.words import has

PLAN = sheet_plan(one_step())
ASKS: dict[Verb, acts.Act] = {
    "at the enlarger": acts.StandAtEnlarger(bench=AtEnlarger(negative_title="pier")),
    "call given": acts.CallGiven(),
    "leave out": acts.LeaveOut(),
    "put back": acts.PutBack(),
    "more burn": acts.MoreBurn(filter="soft", seconds=1.0),
    "close": acts.CloseSheet(),
    "no light": acts.NoLight(),
    "assume": acts.Assume(light="", which="most"),
    "ask focus": acts.AskFocus(),
    "start": acts.StartStep(),
    "paper away": acts.PaperAway(),
    "paper out": acts.PaperOut(),
    "room light on": acts.RoomLightOn(),
    "room light off": acts.RoomLightOff(),
    "no paper in the trays": acts.NoPaperInTrays(),
    "set up made": acts.SetUpMade(),
}
ELSEWHERE = {
    "remark",
    "change remark",
    "take back remark",
    "pick",
    "looked",
    "into recipe",
    "reference print",
    "take offer",
    "refuse offer",
}
"""What is asked of the library and the journal, and never of the grammar."""


def event_of(state: State, verb: Verb, now_ns: int) -> Event:
    if verb == "load":
        return Chosen(PLAN, now_ns)
    return Chosen(None, now_ns) if verb == "put down" else asking(state, ASKS[verb], now_ns)


def told(state: State, verb: Verb, now_ns: int) -> str | None:
    """Return the key with which the grammar refuses an act, or None where it does it."""
    _, wanted = decide(state, event_of(state, verb, now_ns))
    return next((effect.why for effect in wanted if isinstance(effect, Refuse)), None)


class Probed(Session):
    """An evening in which every act is tried at every turn, on a state that is then thrown away."""

    def __init__(self, seed: int, *, lines: bool, seen: Counter[tuple[Verb, str]]) -> None:
        super().__init__(seed, lines=lines)
        self.seen = seen

    def _gesture(self) -> None:
        self._probe()
        super()._gesture()

    def tell(self, act: acts.Act) -> None:
        self._probe()
        super().tell(act)

    def _probe(self) -> None:
        state, now_ns = self.world.runner.state, self.world.clock.now_ns()
        can = describe(state, Facts(), now_ns).can
        for verb in legal_acts.OBJECTIONS:
            why = refusal(state, verb, now_ns)
            assert (verb in can) is (why is None)
            if verb not in ELSEWHERE:
                assert told(state, verb, now_ns) == why, f"{verb} at {state.place}, {now_ns}"
            self.seen[verb, why or ""] += 1


class ProbedWet(Probed, WetSession):
    """The same of an evening with trays."""


class ProbedSettingUp(Probed, SettingUp):
    """The same of an evening whose sheets are set up otherwise, now and again."""

    def __init__(self, seed: int, *, seen: Counter[tuple[Verb, str]]) -> None:
        SettingUp.__init__(self, seed)
        self.seen = seen


def test_what_is_offered_is_accepted_and_all_else_is_refused_with_its_key() -> None:
    """In random evenings each act the snapshot offers is accepted, and each other refused with the very key."""
    seen: Counter[tuple[Verb, str]] = Counter()
    for seed in range(1, 61):
        Probed(seed, lines=seed % 3 == 0, seen=seen).play(300)
    for seed in range(1, 21):
        ProbedWet(seed, lines=seed % 3 == 0, seen=seen).play(300)
        ProbedSettingUp(seed, seen=seen).play(300)
    for verb in legal_acts.OBJECTIONS:
        assert seen[verb, ""], f"{verb} was never offered"
        assert verb in ELSEWHERE or sum(n for (which, why), n in seen.items() if which == verb and why)
    assert all(has(why) for _, why in seen if why)


def test_every_verb_has_its_objections() -> None:
    """The table knows every verb of a page's acts, and no other."""
    assert set(legal_acts.OBJECTIONS) == set(get_args(Verb)) == {act.model_fields["verb"].default for act in acts.ACTS}


@pytest.mark.parametrize("seed", range(1, 7))
def test_what_is_offered_changes_with_time_alone_only_when_it_is_told(seed: int) -> None:
    """Between two words nothing is offered or withheld but at the moments that the runner waits for."""
    session = Session(seed, lines=True)
    for _ in range(60):
        session._wait()
        session._gesture()
        state, now_ns = session.world.runner.state, session.world.clock.now_ns()
        next_ns = changes_ns(state, now_ns)
        until_ns = now_ns + 400_000 * MS if next_ns is None else next_ns - 1
        assert offered(state, now_ns) == offered(state, until_ns)


@settings(deadline=None, max_examples=60)
@given(st.integers(1, 20_000), st.lists(st.integers(1, 8_000), max_size=6))
def test_the_day_face_ends_at_its_moment_with_nobody_looking(day_ms: int, looks_ms: list[int]) -> None:
    """However often the world's clock goes round, the day face and its room light last to their end, and no longer."""
    bench = FootBench(outlets=("room_light",), chosen=False)
    bench.world.runner.change_habits(day_ms=day_ms)
    assert bench.do(acts.PaperAway()) is None
    assert bench.do(acts.RoomLightOn()) is None
    until_ns = bench.state.day_until_ns
    assert until_ns == bench.now_ns + day_ms * MS
    assert bench.world.runner.due_ns() is not None
    for look_ms in looks_ms:
        if bench.now_ns + look_ms * MS < until_ns:
            bench.run(look_ms)
            assert bench.state.day_until_ns == until_ns
            assert bench.world.room.outlets["room_light"].lit
    bench.world.run_until(until_ns - 1)
    assert bench.state.day_until_ns == until_ns
    bench.world.run_until(until_ns)
    assert bench.state.day_until_ns is None
    assert not bench.world.room.outlets["room_light"].lit
