"""What is wrong at present, by keys or in its own words: each stays until it is mended or five newer ones have come."""

from __future__ import annotations

from typing import Final

from controller.words import has, say

_KEPT: Final = 5


class Troubles:
    """The troubles that were told, in the order in which they came; a repeated one counts as the newest."""

    def __init__(self) -> None:
        self._told: tuple[str, ...] = ()

    def add(self, what: str) -> None:
        """Take in a trouble: the keeper's word for it, a key of the catalogue, or a sentence."""
        key = _SAID_OF.get(what, what)
        self._told = (*(told for told in self._told if told != key), key)[-_KEPT:]

    def mended_by_foot(self) -> None:
        """Drop what a foot switch that answers again has mended."""
        self._drop(_BY_FOOT)

    def mended_by_light(self) -> None:
        """Drop what a light that came has mended."""
        self._drop(_BY_LIGHT)

    def mended_by_greeting(self) -> None:
        """Drop what a new keeper has mended."""
        self._drop(_BY_GREETING)

    def sentences(self) -> list[str]:
        """Return the sentences to show, oldest first."""
        return [say(key) if has(key) else key for key in self._told]

    def _drop(self, mended: frozenset[str]) -> None:
        self._told = tuple(key for key in self._told if key not in mended)


_SAID_OF: Final = {
    "keeper.unreadable": "foot.trouble-unreadable",
    "keeper.dropped": "foot.trouble-dropped",
    "keeper.sounder": "foot.trouble-sounder",
    "keeper.foot-wire": "foot.trouble-foot-wire",
    "keeper.outlet": "foot.trouble-outlet",
}
_BY_FOOT: Final = frozenset({"foot.trouble-foot-wire"})
_BY_LIGHT: Final = frozenset(
    {"foot.trouble-slow-card", "foot.trouble-too-long", "foot.box-open", "wiring.trouble-no-lamp"}
)
_BY_GREETING: Final = frozenset({"foot.trouble-late-dark", "foot.trouble-unreadable", "foot.trouble-dropped"})
