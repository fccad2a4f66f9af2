"""Virtual time: keeper, runner, foot and clock in one place, jumping from moment to moment. Nothing sleeps.

The same keeper core, grammar, performer and journal as in the daemon; only the pipe and the lines are in memory.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

from controller.performer import Filing, Performer
from controller.runner import Runner, Watchers
from controller.standing import State
from hardware.clock import ManualClock
from hardware.keeper import Keeper
from hardware.practice.memory import MemoryRoom, memory_room
from hardware.wire import FromKeeper, Greeting, Sounded, Stop, ToKeeper


class World:
    """A darkroom in virtual time.

    `run_until` plays everything that is due; between calls the caller may feed edges and words. Messages pass
    at once, in order, as over the pipe: the keeper first, then the runner, until neither has anything to say.
    """

    def __init__(
        self,
        state: State,
        journal: Callable[[ManualClock], Filing],
        *,
        watchers: Watchers | None = None,
        lid: bool = False,
        number: int = 1,
    ) -> None:
        self.clock = ManualClock(0)
        self.room: MemoryRoom = memory_room(self.clock.now_ns, sounder=state.habits.sounder, lid=lid)
        self._inbox: deque[FromKeeper] = deque()
        self.keeper = Keeper(self.room.lines, state.habits.timing, None, self._inbox.append, "virtual", 0)
        self.cues: list[Sounded] = []
        seen = watchers or Watchers()
        told = seen.heard

        def heard(sounded: Sounded) -> None:
            self.cues.append(sounded)
            told(sounded)

        seen.heard = heard
        self.performer = Performer(_Wire(self), journal(self.clock), run="v", number=number)
        self.runner = Runner(state, self.performer, seen)
        self.keeper.greet(0)
        self._settle(skip_greeting=True)

    def hear(self, message: ToKeeper) -> None:
        """Hand the keeper a message of the daemon's."""
        self.keeper.receive(message, self.clock.now_ns())

    def stop(self) -> None:
        """Press the page's STOP now."""
        self.hear(Stop())
        self._settle()

    def due_ns(self) -> int | None:
        """Return the next moment at which anything happens by itself."""
        dues = (self.room.next_edge_ns(), self.keeper.due_ns(), self.runner.due_ns())
        return min((due for due in dues if due is not None), default=None)

    def run_until(self, until_ns: int) -> None:
        """Play everything that is due up to and at `until_ns`, and stand there."""
        while (due := self.due_ns()) is not None and due <= until_ns:
            self._at(max(due, self.clock.now_ns()))
        self._at(until_ns)

    def step_to_next(self) -> bool:
        """Play the next moment; False where nothing is due any more."""
        due = self.due_ns()
        if due is None:
            return False
        self._at(max(due, self.clock.now_ns()))
        return True

    def _at(self, now_ns: int) -> None:
        self.clock.set(now_ns)
        self.keeper.poll(now_ns)
        self.keeper.advance(now_ns)
        self._settle()
        self.runner.advance(now_ns)
        self._settle()

    def _settle(self, *, skip_greeting: bool = False) -> None:
        now_ns = self.clock.now_ns()
        while self._inbox:
            message = self._inbox.popleft()
            if not (skip_greeting and isinstance(message, Greeting)):
                self.runner.take(message, now_ns)


class _Wire:
    """The pipe, in memory."""

    def __init__(self, world: World) -> None:
        self._world = world

    def send(self, message: ToKeeper) -> None:
        self._world.hear(message)

    def stop(self, why: str = "page") -> None:
        self._world.hear(Stop(why))
