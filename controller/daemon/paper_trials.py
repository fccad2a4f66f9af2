"""The tests of paper, developer and lamp, put together; the lamp's checks are rows of their own, and stand beside."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from controller.daemon.developer_trial import DeveloperTrial
from controller.daemon.reciprocity_trial import ReciprocityTrial
from controller.daemon.trial_desk import Trial, TrialDesk
from controller.lamp.history import in_words
from controller.trials.lamp import LampFound
from controller.trials.results import USUAL_DAYS, TrialResult

if TYPE_CHECKING:
    from controller.carry.carry_over import CarryDesk
    from controller.daemon.paper_shelf import PaperShelf
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.daemon.tray_desk import TrayDesk
    from controller.foot.status import Status
    from controller.lamp.bench import LampBench
    from controller.store.archive import Archive
    from controller.store.settings import Settings


def add_paper_tests(
    trials: TrialDesk,
    archive: Archive,
    papers: PaperShelf,
    trays: TrayDesk,
    lamp: LampBench,
    carrying: CarryDesk,
    status: Callable[[], Status],
    settings: Callable[[], Settings],
    recipes: RecipeShelf,
) -> None:
    """Add all three to the desk of a test evening; what a paper was tested for is used where it is carried over."""
    carrying.use_tests(ReciprocityTrial(trials, archive, papers, status, recipes.longest_ms).exponent_of)
    DeveloperTrial(trials, archive, trays, status, settings, recipes.longest_ms)
    trials.register(Trial("lamp", since=lambda _: since(lamp), read=lambda: checked(lamp)))


def checked(lamp: LampBench) -> TrialResult | None:
    """Return the last lamp check whose day is known; None where there is none."""
    checks = lamp.view().checks
    if not checks or not checks[0].wall:
        return None
    last = checks[0]
    return TrialResult(
        id=f"lamp {last.wall}",
        body=LampFound(level=last.level, sensor=last.sensor, stops=last.stops),
        at=last.wall,
        outcome="lamp.is-reference" if last.stops is None else "lamp.compared-some-day",
        figures={} if last.stops is None else {"how": in_words(last.stops)},
        due_days=USUAL_DAYS["lamp"],
    )


def since(lamp: LampBench) -> str:
    """Return what makes a lamp check due before its day: a bulb that is another, or old; a key of the catalogue."""
    view = lamp.view()
    return "lamp.since-stronger" if view.ask_bulb else "lamp.since-weak" if view.weak else ""
