"""Virtual time: keeper, runner, foot and clock in one place, jumping from moment to moment. Nothing sleeps.

The same keeper core, grammar, performer and journal as in the daemon; only the pipe and the lines are in memory.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence

from controller.daemon.performer import Filing, Performer
from controller.daemon.runner import Runner, Word
from controller.foot.effects import Watchers
from controller.foot.events import KeeperCame
from controller.foot.state import HARD, SOFT, State
from hardware.clock import ManualClock, soonest
from hardware.errors import KeeperAway
from hardware.keeper.keeper import Keeper
from hardware.practice.memory import MemoryRoom, memory_room
from hardware.wire import FromKeeper, Greeting, Order, Sounded, Stop, ToKeeper


class World:
    """A darkroom in virtual time.

    `run_until` plays everything that is due; between calls the caller may feed edges and words. Messages pass
    at once, in order, as over the pipe: the keeper first, then the runner, until neither has anything to say.
    `busy_ns` tells for how long the runner hears nothing after each word, as one that waits for its disk does.
    """

    def __init__(
        self,
        state: State,
        journal: Callable[[ManualClock], Filing],
        *,
        watchers: Watchers | None = None,
        lid: bool = False,
        outlets: Sequence[str] = (),
        busy_ns: Callable[[], int] = lambda: 0,
    ) -> None:
        self.clock = ManualClock(0)
        lamps = (SOFT, HARD) if state.habits.filters == "lines" else ("lamp",)
        self.room: MemoryRoom = memory_room(
            self.clock.now_ns, lamps=lamps, sounder=state.habits.sounder, lid=lid, outlets=outlets
        )
        self._inbox: deque[Word] = deque()
        self._busy_ns, self._free_ns = busy_ns, 0
        self.keepers = 1
        self.keeper = Keeper(self.room.lines, state.habits.timing, None, self._said, "virtual", self.keepers)
        self.cues: list[Sounded] = []
        seen = watchers or Watchers()
        told = seen.sounded

        def sounded(cue: Sounded) -> None:
            self.cues.append(cue)
            told(cue)

        seen.sounded = sounded
        self.performer = Performer(_Wire(self), journal(self.clock))
        self.runner = Runner(state, self.performer, seen)
        self.keeper.greet(0)
        first = self._inbox.popleft()  # the first greeting is no return
        assert isinstance(first, KeeperCame)
        self.runner.meet(first.greeting)
        self._settle()

    def hear(self, message: ToKeeper) -> None:
        """Hand the keeper a message of the daemon's."""
        self.keeper.receive(message, self.clock.now_ns())

    def tell(self, word: Word) -> None:
        """Put a word of a page into the runner's inbox, behind what waits there."""
        self._inbox.append(word)
        self._settle()

    def stop(self) -> None:
        """Press the page's STOP now."""
        self.hear(Stop())
        self._settle()

    def _said(self, message: FromKeeper) -> None:
        self._inbox.append(KeeperCame(message, None) if isinstance(message, Greeting) else message)

    def due_ns(self) -> int | None:
        """Return the next moment at which anything happens by itself."""
        runner_ns = self._free_ns if self._inbox else self.runner.due_ns()
        if runner_ns is not None:
            runner_ns = max(runner_ns, self._free_ns)
        dues = (self.room.next_edge_ns(), self.keeper.due_ns(), runner_ns)
        return soonest(dues)

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
        if now_ns >= self._free_ns:
            self.runner.advance(now_ns)
        self._settle()

    def _settle(self) -> None:
        now_ns = self.clock.now_ns()
        while self._inbox and now_ns >= self._free_ns:
            self.runner.take(self._inbox.popleft(), now_ns)
            self._free_ns = now_ns + self._busy_ns()


class _Wire:
    """The pipe, in memory."""

    def __init__(self, world: World) -> None:
        self._world, self._known = world, 0

    def know(self, keeper: int) -> None:
        self._known = keeper

    def send(self, message: ToKeeper) -> None:
        if isinstance(message, Order) and self._known != self._world.keepers:
            raise KeeperAway("this order was meant for another keeper")
        self._world.hear(message)

    def stop(self, why: str = "page") -> None:
        self._world.hear(Stop(why))
