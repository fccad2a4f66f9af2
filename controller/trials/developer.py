"""The test of the developer's least time, pure: its pieces of paper, and the time that follows from them.

Source: *Photography: Theory and Practice*, §556: pieces of one paper, half of each kept from the light, are developed
for 100, 140, 200 and 280 s. Where 140 s are as black as 200 s, and 100 s are not, less than 140 s impairs the black,
however much light there was; where only the last is grey in its white half, up to 200 s may be developed.
RC paper takes about half as long as fibre (common practice), and so do its pieces.
"""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from controller.errors import Impossible
from controller.model import Frozen
from controller.recipe.plan import TEST_SOURCE, Hands, Plan, Step, StepKind, StripPlan
from controller.words import say

NAME: Final = "developer"
Support = Literal["RC", "FB"]
TIMES_S: Final[dict[Support, tuple[int, ...]]] = {"FB": (100, 140, 200, 280), "RC": (45, 65, 90, 125)}
"""From short to long: each about 1.4 times the one before, and the usual time of RC among its own."""
BLACK: Final = 4
"""Times the base of a print, without its negative: log10 4 and the 1.2 to 1.4 of a negative's highlight are more than
any paper's range (derived), so that it is black. More light makes up for no time (§556)."""
LEAST_MS: Final = 1_000
EYE: Final = 0.03
"""What two blacks may differ by that look alike side by side (common practice)."""
PAPER_WHITE: Final = 0.02
"""What a white may have over the whitest piece before it looks grey beside it (common practice)."""


class DeveloperFound(Frozen):
    """The least time in the developer that gives full black, and from when on it fogs."""

    trial: Literal["developer"] = "developer"
    support: Support
    least_seconds: int = Field(ge=10, le=900)
    or_less: bool = False
    """The shortest piece was as black already."""
    fog_seconds: int | None = Field(default=None, ge=10, le=900)
    """The shortest time at which the white half was grey; None: no piece was."""
    developer: str = Field(default="", max_length=4000)
    """What was noted at the process: which developer, how diluted."""


def plan(support: Support, seconds: int, filter_name: str, base_ms: int, longest_ms: int) -> Plan:
    """Return the sheet of one piece: half of it black, then the trays by its own time; `base_ms` is of a print's base.

    Raises:
        Impossible: no piece has this time.
    """
    if seconds not in TIMES_S[support]:
        raise Impossible(say("developer.no-piece", seconds=seconds))
    title = say("developer.title", seconds=seconds)
    ms = min(max(BLACK * base_ms, LEAST_MS), longest_ms)
    step = Step(
        number=1,
        name=say("developer.name"),
        act=StepKind.BAND,
        filter=filter_name,
        planned_ms=ms,
        base_ms=ms,
        hands=Hands.NEGATIVE_OUT,
        card="developer.card",
    )
    source = f"{TEST_SOURCE}{NAME}"
    halves = StripPlan(
        filter=filter_name, kind="seconds", card="cover", pace="press", totals_ms=(0, ms), pulses_ms=(ms,)
    )
    return Plan(
        source=source,
        version=1,
        kind="strip",
        title=title,
        steps=(step,),
        strip=halves,
        develop_seconds=float(seconds),
    )


def next_piece(support: Support, made: frozenset[int]) -> int | None:
    """Return the time of the next piece to make, the longest first, so that nobody waits for white light at the end.

    None: all of them are made.
    """
    return max((each for each in TIMES_S[support] if each not in made), default=None)


def judged(support: Support, black_from: int | None, fog_from: int | None, notes: str = "") -> DeveloperFound:
    """Return what the pieces say: the shortest that is as black as the longest, and the shortest with a grey white.

    None: no piece but the longest is as black; no piece is grey.

    Raises:
        Impossible: a time that no piece had; a black that still grows at the end; or fog no later than full black.
            Nothing is found then, and the sentence says what to do.
    """
    times = TIMES_S[support]
    for each in (black_from, fog_from):
        if each is not None and each not in times:
            raise Impossible(say("developer.no-piece", seconds=each))
    if black_from is None or black_from == times[-1]:
        raise Impossible(say("developer.never-black", seconds=times[-1]))
    if fog_from is not None and fog_from <= black_from:
        raise Impossible(say("developer.fogs", fog=fog_from, black=black_from))
    return DeveloperFound(
        support=support,
        least_seconds=black_from,
        or_less=black_from == times[0],
        fog_seconds=fog_from,
        developer=notes,
    )


def time_for(found: DeveloperFound, seconds: float) -> float:
    """Return how long a process should develop that has it for so many seconds: full black, and no fog."""
    if seconds < found.least_seconds:
        return float(found.least_seconds)
    if found.fog_seconds is not None and seconds >= found.fog_seconds:
        return float(max(each for each in TIMES_S[found.support] if each < found.fog_seconds))
    return seconds


def by_densities(support: Support, blacks: tuple[float, ...], whites: tuple[float, ...]) -> DeveloperFound:
    """Return the same of read densities, in the order of the times; raises as `judged`."""
    times = TIMES_S[support]
    if len(blacks) != len(times) or len(whites) != len(times):
        raise Impossible(say("developer.all", pieces=len(times)))
    full, clear = max(blacks), min(whites)
    black = next((at for at, one in zip(times, blacks, strict=True) if one >= full - EYE), None)
    # a piece that is fogged has a darker black as well; its white tells that
    fog = next((at for at, one in zip(times, whites, strict=True) if one > clear + PAPER_WHITE), None)
    return judged(support, black, fog)


def figures_of(found: DeveloperFound) -> dict[str, str]:
    """Return what the sentence of a result says in figures."""
    return {
        "support": found.support,
        "seconds": str(found.least_seconds),
        "fog": "" if found.fog_seconds is None else str(found.fog_seconds),
    }


def outcome_of(found: DeveloperFound) -> str:
    """Return the key of the sentence of a result."""
    if found.fog_seconds is None:
        return "developer.found-or-less-clean" if found.or_less else "developer.found-clean"
    return "developer.found-or-less" if found.or_less else "developer.found"
