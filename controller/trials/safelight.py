"""The safelight test, pure: its sheets, and what their quarters tell of how long paper may lie under this safelight.

Source: Kodak Publication K-4 (October 2006), “How Safe Is Your Safelight?”: paper with a light grey on it is the most
easily fogged; a safe time is at most half the time that makes a visible change. Three strips of one sheet lie under
one card: the first has its grey before, the second gets it afterwards, the third has none.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Literal

from pydantic import Field

from controller.errors import Impossible, Unreadable
from controller.model import Frozen
from controller.recipe.compile_strip import compile_strip
from controller.recipe.plan import TEST_SOURCE, Hands, Plan, Step, StepKind, Wait
from controller.recipe.set_up import SetUp
from controller.recipe.strip import Strip
from controller.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

Glow = Literal["safelight", "phone"]
"""What alone may fog the paper in a run."""
WAITS_S: Final = (240, 120, 60)
"""The card is moved on by a quarter after each of these waits: at first it leaves one quarter open, at last three."""
QUARTERS_MIN: Final = (7, 3, 1, 0)
"""What the quarters have had in the end, in minutes; the last one lay covered from the start."""
Minutes = Literal[0, 1, 3, 7]
Answer = Minutes | Literal["mixed"]
"""The last quarter that does not differ from the covered one; “mixed”: they stand in no order."""
LEAST_GREY: Final = 0.25
MOST_GREY: Final = 0.50
"""Between these a grey shows the least change; reflection densities, as K-4 has them."""
GREY: Final = "grey"
"""The name of the strip that finds the grey, in its plan's source."""
GREY_CENTRE: Final = 3
GREY_STEP: Final = Fraction(1, 3)
GREY_BANDS: Final = 9
"""Of that strip; the lens is at its smallest opening (K-4), and no negative in: common practice."""
SMALLEST: Final = 16
"""The opening that is asked for."""
LATEST_S: Final = 60
"""A card that is moved later than this after its cue has let more light in than is reckoned with; our own choice."""
CARDS: Final = ("trials.card-first", "trials.card-second", "trials.card-third")


class SafelightFound(Frozen):
    """The last quarters that do not differ from the covered one, and how long paper may lie there."""

    trial: Literal["safelight"] = "safelight"
    before: Minutes
    after: Minutes
    alone: Minutes
    grey: float = Field(ge=LEAST_GREY, le=MOST_GREY)
    """The density of the grey, as far as it was told."""
    safe_minutes: float = Field(gt=0.0, le=7.0)
    case: Literal["A", "B", "C"]
    """As K-4 tells its three examples apart: safe for seven minutes, not safe, safe for less."""


# ---- its sheets


def grey_plan(filter_name: str, longest_ms: int) -> Plan:
    """Return the strip that finds the grey: no negative, by thirds of a stop."""
    strip = Strip.model_validate(
        {
            "title": say("trials.title-grey"),
            "filter": filter_name,
            "times": {"kind": "stops", "centre": GREY_CENTRE, "step": str(GREY_STEP), "bands": GREY_BANDS},
            "card": "cover",
            "pace": "press",
            "lens": {"aperture": SMALLEST},
        }
    )
    plan = compile_strip(strip, source=f"{TEST_SOURCE}{GREY}", version=1, longest_ms=longest_ms)
    first, *others = plan.steps
    return plan.model_copy(update={"steps": (first.model_copy(update={"hands": Hands.NEGATIVE_OUT}), *others)})


def sheet_plan(glow: Glow, filter_name: str, grey_ms: int, level: int = 0) -> Plan:
    """Return the sheet of a run: the grey on the first strip, the waits over all three, the grey on the second.

    `level` is the red that a phone's page stands at.
    """
    waits = tuple(
        Wait(ms=1000 * seconds, card=card, glow=glow, level=level) for seconds, card in zip(WAITS_S, CARDS, strict=True)
    )
    first = Step(
        number=1,
        name=say("trials.name-grey-first"),
        act=StepKind.UNDER,
        filter=filter_name,
        planned_ms=grey_ms,
        base_ms=grey_ms,
        hands=Hands.NEGATIVE_OUT,
        card=f"trials.card-grey-first-{glow}",
    )
    after = {
        "number": 2,
        "name": say("trials.name-grey-second"),
        "hands": None,
        "card": "trials.card-grey-second",
        "waits": waits,
    }
    steps = (first, first.model_copy(update=after))
    return Plan(
        source=f"{TEST_SOURCE}{glow}",
        version=1,
        kind="strip",
        title=say(f"trials.title-{glow}", level=level),
        steps=steps,
        wants=SetUp(aperture=float(SMALLEST)),
    )


def check_waits(until_ns: Sequence[int], waits_ms: Sequence[int]) -> None:
    """See that a sheet had its waits whole, one after the other: when each was over, and how long it lasted.

    Raises:
        Impossible: one is missing, or the card was moved too late; the sheet tells nothing, and the sentence says so.
    """
    if [ms // 1000 for ms in waits_ms] != list(WAITS_S):
        raise Impossible(say("trials.waits-missing"))
    for (one, two), ms in zip(pairwise(until_ns), waits_ms[1:], strict=True):
        if not 0 < two - one <= (ms + 1000 * LATEST_S) * 1_000_000:
            raise Impossible(say("trials.waits-late", seconds=LATEST_S))


# ---- what they tell


def first_change(last_same: Minutes) -> int | None:
    """Return after how many minutes the first quarter differs; None: none does."""
    return {0: 1, 1: 3, 3: 7, 7: None}[last_same]


def safe_minutes(last_same: Minutes) -> float:
    """Return how long paper may lie there: what left no change, and at most half of what made the first one."""
    changed = first_change(last_same)
    return 7.0 if changed is None else min(float(last_same) or changed / 2, changed / 2)


def found(before: Answer, after: Answer, alone: Answer, grey: float) -> SafelightFound:
    """Return what the answers mean; the smallest of them counts, since what paper gets adds up.

    Raises:
        Unreadable: the grey is out of limits, the quarters are in no order, or paper without a grey was fogged sooner
            than paper with one; nothing is found then, and the sentence says what to do.
    """
    check_grey(grey)
    same = in_order(before, after, alone)
    least: Minutes = min(same)
    return SafelightFound(
        before=same[0],
        after=same[1],
        alone=same[2],
        grey=grey,
        safe_minutes=safe_minutes(least),
        case="A" if least == 7 else "B" if least == 0 else "C",
    )


def in_order(before: Answer, after: Answer, alone: Answer) -> tuple[Minutes, Minutes, Minutes]:
    """Return answers whose quarters were in order. Raises `Unreadable`: those of a strip were not, or light came in."""
    same: list[Minutes] = []
    for place, answer in (("before", before), ("after", after), ("alone", alone)):
        if answer == "mixed":
            raise Unreadable(say("trials.safelight-card"), (place,))
        same.append(answer)
    if same[2] < min(same[:2]):
        raise Unreadable(say("trials.safelight-order"), ("alone",))
    return same[0], same[1], same[2]


def check_grey(grey: float) -> None:
    """See that a grey shows a small change. Raises `Unreadable` outside 0.25 to 0.50."""
    if not LEAST_GREY <= grey <= MOST_GREY:
        key = "trials.safelight-grey-light" if grey < LEAST_GREY else "trials.safelight-grey-dark"
        raise Unreadable(say(key, found=f"{grey:.2f}", least=f"{LEAST_GREY:.2f}", most=f"{MOST_GREY:.2f}"), ("grey",))


def figures_of(result: SafelightFound) -> dict[str, str]:
    """Return what the sentence of a result says in figures."""
    return {"minutes": f"{result.safe_minutes:g}"}
