"""What a check finds: one line each, how much it matters, and what to do about it."""

from __future__ import annotations

from typing import Literal

from controller.model import Frozen
from controller.words import say

Level = Literal["good", "unknown", "advice", "must"]


class Finding(Frozen):
    """One thing that was looked at. `must`: to be put right before there is a safe light; `advice`: better put right.

    `unknown`: nothing here can tell.
    """

    name: str
    level: Level
    words: str
    """What was found; where it is not good, with the remedy."""


class Report(Frozen):
    """All that was looked at."""

    findings: tuple[Finding, ...]

    @property
    def good(self) -> bool:
        """Nothing has to be put right; advice may stand."""
        return all(finding.level != "must" for finding in self.findings)

    def lines(self) -> tuple[str, ...]:
        """Return one line a finding."""
        return tuple(f"{say(f'check.level-{found.level}')} {found.words}" for found in self.findings)


def found(name: str, level: Level, key: str, /, **values: object) -> Finding:
    """Return a finding in the words of a key of the catalogue."""
    return Finding(name=name, level=level, words=say(key, **values))
