"""The virtual darkroom with a keeper that may die at any moment, another one in its place."""

from __future__ import annotations

from controller.daemon.world import World
from controller.foot.events import KeeperCame, KeeperWent
from hardware.keeper.keeper import Keeper
from hardware.slate import Interrupted
from hardware.wire import Dark, FromKeeper, Greeting, Lit


class MortalWorld(World):
    """A `World` that remembers what light is on, as the slate does."""

    lit: Lit | None = None
    left: Interrupted | None = None

    def lose_keeper(self, seen_ns: int) -> None:
        """Have the keeper die now, last seen at `seen_ns`, and another in its place, dark at first."""
        now_ns, timing = self.clock.now_ns(), self.runner.state.habits.timing
        if self.lit is not None:
            id_, on_ns = self.lit.id, self.lit.at_ns
            self.left = Interrupted(id_, on_ns, max(0, seen_ns - on_ns), now_ns - on_ns)
        self._inbox.append(KeeperWent(now_ns, "gone"))
        self.keepers += 1
        self.keeper = Keeper(self.room.lines, timing, None, self._said, "virtual", self.keepers, now_ns=now_ns)
        self.keeper.greet(now_ns)
        self._settle()

    def _said(self, message: FromKeeper) -> None:
        match message:
            case Greeting():
                self._inbox.append(KeeperCame(message, self.left))
                self.lit = self.left = None
                return
            case Lit():
                self.lit = message
            case Dark():
                self.lit = None
        super()._said(message)
