"""What `treadle timing` answers."""

from __future__ import annotations

from controller.lateness.figures import LateUs
from controller.lateness.load import Load
from controller.sheet import Frozen
from controller.words import say


class Thread(Frozen):
    """The timer thread beside the page, in the same run: as many lights as it found time for."""

    lights: int
    late_us: LateUs


class TimingAnswer(Frozen):
    """How late the lamp went dark, and under what."""

    lights: int
    seconds: float
    load: Load
    real_lines: bool
    scheduling: str
    memory_locked: bool
    steal_percent: float | None
    late_us: LateUs
    thread: Thread | None = None

    def lines(self) -> tuple[str, ...]:
        """Return it as text, a line each."""
        load = self.load.text() or say("timing.no-load")
        steal = say("timing.steal-unknown") if self.steal_percent is None else f"{self.steal_percent:.2f} %"
        rows = [
            say(
                f"timing.head-{'real' if self.real_lines else 'practice'}",
                lights=self.lights,
                seconds=f"{self.seconds:g}",
                load=load,
            ),
            say(f"timing.scheduling-{'fifo' if self.scheduling == 'fifo' else 'other'}"),
            say("timing.steal", steal=steal),
            _row(say("timing.keeper"), self.late_us),
        ]
        if self.thread is not None:
            rows.append(_row(say("timing.thread"), self.thread.late_us))
            rows.append(say("timing.ratio", times=f"{self.thread.late_us.p99 / max(self.late_us.p99, 0.1):.0f}"))
        return tuple(rows)


def _row(name: str, late: LateUs) -> str:
    p999 = say("timing.few") if late.p999 is None else say("timing.micro", count=f"{late.p999:.0f}")
    return say("timing.row", name=name, p50=f"{late.p50:.0f}", p99=f"{late.p99:.0f}", p999=p999, most=f"{late.max:.0f}")
