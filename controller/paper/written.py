"""What a printer writes down of one paper: its box, how the enlarger stood, and every print of a step tablet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from pydantic import Field, model_validator

from controller.model import Frozen
from controller.paper.filter_readings import standing_in
from controller.paper.paper import Box, Paper, Setup
from controller.paper.readings import MOST_EXPOSURES, Exposure, Readings

if TYPE_CHECKING:
    from controller.paper.faults import ReadingFault


class Written(Frozen):
    """One paper as it was written down: prints through soft and hard (or both), and through single filters."""

    paper: str = Field(min_length=1, max_length=80)
    box: Box
    setup: Setup = Setup()
    exposures: Annotated[tuple[Exposure, ...], Field(max_length=MOST_EXPOSURES)] = ()
    filters: Annotated[tuple[Exposure, ...], Field(max_length=MOST_EXPOSURES)] = ()

    @model_validator(mode="after")
    def _has_readings(self) -> Written:
        if not self.exposures and not self.filters:
            raise ValueError("a paper needs at least one print of a step tablet")
        return self

    @property
    def prints(self) -> tuple[Exposure, ...]:
        """All prints, those through soft and hard first."""
        return (*self.exposures, *self.filters)


def written_of(paper: Paper) -> Written | None:
    """Return what was written down of a kept paper; None where it came without readings."""
    readings = paper.readings.exposures if paper.readings is not None else ()
    # A filter's print that stands in for soft or hard is among the filters, too.
    own = tuple(each for each in readings if not each.filter)
    if not own and not paper.filters:
        return None
    return Written(paper=paper.name, box=paper.box, setup=paper.setup, exposures=own, filters=paper.filters)


def faults_of(written: Written) -> tuple[tuple[Exposure, ReadingFault], ...]:
    """Return what is wrong with the readings, print by print and step by step."""
    from controller.paper.faults import look_over

    return tuple((each, fault) for each in written.prints for fault in look_over(each))


def fitted(written: Written) -> Paper:
    """Return the paper that its readings make most probable; numpy and scipy are loaded here.

    Read through single filters only, the softest stands in for soft and the hardest for hard.

    Raises:
        Impossible: the readings cannot make a paper; the sentence says what to print.
    """
    from controller.paper.fit import fit

    exposures, setup = written.exposures, written.setup
    if not exposures:
        exposures = standing_in(written.filters)
        names = [each.filter for each in exposures]
        setup = setup.model_copy(
            update={
                "soft_filter": setup.soft_filter or names[0],
                "hard_filter": setup.hard_filter or (names[1] if len(names) > 1 else ""),
            }
        )
    readings = Readings(paper=written.paper, exposures=exposures)
    paper = fit(readings, written.box, setup=setup)
    return paper.model_copy(update={"filters": written.filters})
