"""How bright the dark face is on one phone: five levels of red, the lowest until the phone was tested and turned up.

On a screen of the LCD kind a phone's own brightness lets white through all over; the level lifts nothing but red.
A practice darkroom has no paper that could fog: there the page is as bright as it goes, until a phone asks for the
real thing.
"""

from __future__ import annotations

import hashlib
import math
import re
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final, cast

from flask import g, request

from controller.daemon.phones import RED_LEVELS
from webui.frame.context import desk, now, room
from webui.frame.device import YEAR_S, device

if TYPE_CHECKING:
    from flask import Response

    from controller.daemon.phones import FogTest

AS_DARK: Final = 1
"""The level of a phone that has chosen none."""
BRIGHTEST: Final = RED_LEVELS


@dataclass(frozen=True, slots=True)
class Level:
    """The red of one level, of 255: words, softer words, and the edges of buttons and fields."""

    number: int
    ink: int
    soft: int
    line: int

    def declared(self) -> str:
        """Return the level as the variables of a style."""
        return f"--ink:{colour(self.ink)};--soft:{colour(self.soft)};--line:{colour(self.line)}"


def linear(channel: int) -> float:
    """Return the light of a channel, 1 at 255 (IEC 61966-2-1, sRGB)."""
    share = channel / 255
    return share / 12.92 if share <= 0.04045 else math.pow((share + 0.055) / 1.055, 2.4)


def dimmed(ink: int, share: float) -> int:
    """Return the lowest channel that still gives `share` of the light of `ink`."""
    return next(channel for channel in range(ink + 1) if linear(channel) >= share * linear(ink))


def colour(red: int) -> str:
    """Return a red alone as a style writes it."""
    return f"#{red:02x}0000"


LEVELS: Final = tuple(
    Level(number, ink, dimmed(ink, softer), dimmed(ink, edge))
    for number, (ink, softer, edge) in enumerate(
        (
            (0x5A, 0.7, 0.4),
            (0x78, 0.7, 0.4),
            (0x9B, 0.7, 0.4),
            (0xC8, 0.7, 0.4),
            (0xFF, 0.83, 0.48),  # on black 4.5 : 1 for softer words and 3 : 1 for edges (WCAG 2.2)
        ),
        start=1,
    )
)
"""Each gives about 1.8 times the light of the one before."""


def style() -> str:
    """Return the rules that give every page its level's colours, and one that has none the lowest."""
    first, *others = LEVELS
    rules = [f":root{{{first.declared()}}}"]
    return "".join(rules + [f'html[data-red="{level.number}"]{{{level.declared()}}}' for level in others])


@dataclass(frozen=True, slots=True)
class Red:
    """One phone's red: its level, and how far it was tested."""

    level: int
    practice: bool
    chosen: bool
    """The phone has asked for this level; else it has what is usual."""
    tested: FogTest | None

    @property
    def bright(self) -> bool:
        """Tell whether this is the practice darkroom at its brightest, where nothing need be dark."""
        return self.practice and not self.chosen

    @property
    def brighter(self) -> int | None:
        """Return the next level up, or None at the top."""
        return self.level + 1 if self.level < BRIGHTEST else None

    @property
    def darker(self) -> int | None:
        """Return the next level down, or None at the bottom."""
        return self.level - 1 if self.level > AS_DARK else None

    def asks_twice(self, level: int) -> bool:
        """Tell whether a level is brighter than anything that this phone was tested for."""
        return not self.practice and level > (self.tested.level if self.tested else AS_DARK)


def red() -> Red:
    """Return the red of the phone that sent the present request."""
    if "red" not in g:
        phone, practice, wish = device(), now().practice, _wish()
        usual = BRIGHTEST if practice else AS_DARK
        tested = desk().phones().fog_test(phone.mark) if phone else None
        g.red = Red(wish or usual, practice, wish is not None, tested)
    return cast("Red", g.red)


def take_level(level: int | None) -> None:
    """Answer the rest of the present request at another level; None: at the usual one."""
    before = red()
    usual = BRIGHTEST if before.practice else AS_DARK
    g.red = replace(before, level=level or usual, chosen=level is not None)


def remember(answer: Response, level: int | None) -> None:
    """Have the phone remember its level; None: that it has chosen none."""
    name, secure = cookie_name(desk().key()), room().secure
    if level is None:
        answer.delete_cookie(name, secure=secure, httponly=True, samesite="Strict")
    else:
        answer.set_cookie(name, str(level), max_age=YEAR_S, secure=secure, httponly=True, samesite="Strict")


def cookie_name(key: bytes) -> str:
    """Return the cookie's name, which follows the key: a practice darkroom on the same machine has its own."""
    return "treadle-red-" + hashlib.sha256(b"red level" + key).hexdigest()[:8]


def _wish() -> int | None:
    """Return the level that the phone asks for; anything that is none counts as no wish."""
    found = _ours(cookie_name(desk().key())).search(request.headers.get("Cookie", ""))
    return int(found[1]) if found else None


@lru_cache(maxsize=4)
def _ours(name: str) -> re.Pattern[str]:
    return re.compile(rf"(?:^|[;,\s]){re.escape(name)}=([1-{BRIGHTEST}])(?:[;,\s]|$)")
