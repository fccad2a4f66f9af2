"""The practice darkroom's papers: a mixture of emulsions, each with its speed to blue and to green light.

The invented papers are shipped; a paper that a printer has calibrated can stand in for them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Final, Literal

from pydantic import Field

from controller.errors import NotThere
from controller.model import Frozen
from controller.picture.light import BlueGreen, second_through
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.emulsions import Mixture
    from controller.paper.paper import Paper


class Layer(Frozen):
    """One emulsion: its share of the net density, and its sensitivity, 1 over the units that bring it half way."""

    weight: float = Field(gt=0.0, le=1.0)
    blue: float = Field(ge=0.0)
    green: float = Field(ge=0.0)


class PracticePaper(Frozen):
    """A paper as the tray needs it. `dry_down_percent` is how much more light it looks to have had once dry."""

    name: str
    title: str
    support: Literal["RC", "FB"]
    shape: Literal["logistic", "normal"] = "logistic"
    contrast: float = Field(gt=0.0)
    shoulder: float = Field(default=1.0, gt=0.0)
    dmin: float
    dmax: float
    layers: Annotated[tuple[Layer, ...], Field(min_length=1, max_length=8)]
    dry_down_percent: float = Field(default=0.0, ge=0.0, le=50.0)

    def mixture(self) -> Mixture:
        """Return its figures as `controller.paper.emulsions` takes them: green stands for soft, blue for hard light."""
        import numpy as np

        from controller.paper.emulsions import Mixture

        def speeds(values: list[float]) -> np.ndarray:
            return np.log10(np.maximum(values, 1e-12))

        return Mixture(
            shape=self.shape,
            dmin=self.dmin,
            dmax=self.dmax,
            contrast=self.contrast,
            shoulder=self.shoulder,
            weights=np.array([each.weight for each in self.layers]),
            soft=speeds([each.green for each in self.layers]),
            hard=speeds([each.blue for each in self.layers]),
        )


GREEN: Final = (1.0, 0.28, 0.08)
"""Of the three emulsions of either invented paper; alike in contrast and, to blue, in speed."""
DRY_DOWN_FB: Final = 8.0
"""Per cent of time: usual on fibre, near none on RC (second-hand)."""


def practice_paper(name: str) -> PracticePaper:
    """Return an invented paper, "one" or "two".

    Raises:
        NotThere: there is no such paper; the sentence says which there are.
    """
    match name:
        case "one":
            return _invented(name, "RC", dmax=2.1, blue=1.0, green=1.0, dry_down=0.0)
        case "two":
            return _invented(name, "FB", dmax=2.2, blue=1.1225, green=0.7937, dry_down=DRY_DOWN_FB)
    raise NotThere(say("picture.paper-unknown", paper=name))


def _invented(
    name: Literal["one", "two"],
    support: Literal["RC", "FB"],
    *,
    dmax: float,
    blue: float,
    green: float,
    dry_down: float,
) -> PracticePaper:
    return PracticePaper(
        name=name,
        title=say(f"picture.paper-{name}"),
        support=support,
        contrast=10.0,
        dmin=0.05,
        dmax=dmax,
        layers=tuple(Layer(weight=1.0 / len(GREEN), blue=blue, green=green * each) for each in GREEN),
        dry_down_percent=dry_down,
    )


def of_kept(paper: Paper, *, support: Literal["RC", "FB"] = "RC") -> PracticePaper:
    """Return a calibrated paper as the tray needs it.

    Its readings say how fast it is to soft and to hard light; blue and green follow from what those two filters
    let through. They are taken as they stand for the practice enlarger, at magnification 2 and f/8.
    """
    soft, hard = second_through("soft"), second_through("hard")
    soft_stops = sum(each.soft_stops for each in paper.speeds)
    hard_stops = sum(each.hard_stops for each in paper.speeds)
    return PracticePaper(
        name=paper.name,
        title=paper.name,
        support=support,
        shape=paper.shape,
        contrast=paper.contrast,
        shoulder=paper.shoulder,
        dmin=paper.dmin,
        dmax=paper.dmax,
        layers=tuple(
            _layer(
                each.weight,
                10.0**each.soft_speed * 2.0**soft_stops,
                10.0**each.hard_speed * 2.0**hard_stops,
                soft,
                hard,
            )
            for each in paper.emulsions
        ),
        dry_down_percent=DRY_DOWN_FB if support == "FB" else 0.0,
    )


def _layer(weight: float, to_soft: float, to_hard: float, soft: BlueGreen, hard: BlueGreen) -> Layer:
    # two lights, two unknowns; a paper that this enlarger's filters cannot part that far keeps what they can
    whole = soft.blue * hard.green - soft.green * hard.blue
    blue = (to_soft * hard.green - soft.green * to_hard) / whole
    green = (soft.blue * to_hard - to_soft * hard.blue) / whole
    return Layer(weight=weight, blue=max(0.0, blue), green=max(0.0, green))
