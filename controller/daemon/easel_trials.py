"""The tests that are made at the easel, put together: evenness with coverage, and alignment."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from controller.daemon.alignment_desk import AlignmentDesk
from controller.daemon.evenness_desk import EvennessDesk

if TYPE_CHECKING:
    from controller.daemon.enlarger_shelf import EnlargerShelf
    from controller.daemon.paper_shelf import PaperShelf
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.daemon.scans import ScanDrawer
    from controller.daemon.trial_desk import TrialDesk
    from controller.foot.acts import Act
    from controller.foot.status import Status
    from controller.lamp.bench import LampBench
    from controller.lamp.spot_bench import SpotBench


def add_easel_trials(
    trials: TrialDesk,
    lamp: LampBench,
    spots: SpotBench,
    recipes: RecipeShelf,
    papers: PaperShelf,
    enlargers: EnlargerShelf,
    scans: Callable[[], ScanDrawer],
    status: Callable[[], Status],
    do: Callable[[Act, int], Status],
) -> None:
    """Add both to the desk of a test evening, and what they test to its page."""
    EvennessDesk(trials, lamp, spots, recipes, papers, enlargers, scans, status=status, do=do)
    AlignmentDesk(trials, lamp, recipes, enlargers, status=status)
