"""The lamp's bench and the bench of the spots, put together from the darkroom's own parts."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from controller.lamp.bench import LampBench
from controller.lamp.lookout import BenchNeeds
from controller.lamp.sensor import sensor_of
from controller.lamp.spot_bench import SpotBench, SpotNeeds

if TYPE_CHECKING:
    from pathlib import Path

    from controller.daemon.answers import Answers
    from controller.daemon.in_force import InForce
    from controller.daemon.inbox import Inbox
    from controller.daemon.runner import Runner
    from controller.foot.events import SpotTold
    from controller.store.rows import Reader
    from hardware.clock import Clock
    from hardware.practice.sensor import Laid


def spot_bench(runner: Runner, answers: Answers, inbox: Inbox, clock: Clock, reader: Reader) -> SpotBench:
    """Return what counts the spots of readings at the easel."""

    def tell(event: SpotTold) -> None:
        runner.take(event, clock.now_ns())
        answers.publish()

    needs = SpotNeeds(note=answers.note, tell=tell, call=inbox.call, filter_in=lambda: runner.state.filter_in)
    return SpotBench(needs, reader)


def lamp_bench(
    runner: Runner,
    answers: Answers,
    inbox: Inbox,
    in_force: InForce,
    clock: Clock,
    reader: Reader,
    *,
    practice: Path | None,
    laid: Callable[[], Laid | None],
    cut: bool,
    spots: SpotBench,
) -> LampBench:
    """Return the bench that watches over the lamp itself: beside the runner, never in light's way.

    `practice` is the folder of the practice darkroom, whose sensor lies where `laid` says.
    """
    wiring = in_force.wiring
    needs = BenchNeeds(
        load=answers.load_check,
        judged=answers.judged,
        note=answers.note,
        alarm=answers.alarm,
        publish=answers.publish,
        state=lambda: runner.state,
        call=inbox.call,
        ask=inbox.ask,
        settings=in_force.settings,
        change=in_force.change,
    )
    return LampBench(
        needs,
        reader,
        clock,
        lambda settings: sensor_of(settings, practice, tuple(wiring.lamps), laid),
        relay_ms=(wiring.operate_ms, wiring.release_ms),
        longest_ms=in_force.longest_ms,
        cut=cut,
        spots=spots,
    )
