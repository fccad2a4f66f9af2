"""The foot on the practice contact."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

from controller.model import Frozen
from controller.words import say, say_many
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue, notes
from webui.frame.guard import signature

if TYPE_CHECKING:
    from flask import Flask
    from markupsafe import Markup

    from controller.daemon.desk import Desk
    from controller.foot.status import Heard, Status
    from controller.practice.switches import PracticeSwitches, PracticeView
    from controller.recipe.plan import Plan

USUAL_FILTERS: Final = ("soft", "hard")
PaintLead = Callable[["Status", "PracticeView", "Markup"], str]
"""Paints what to do now at a snapshot; the last is the signature of its forms."""


Painted = Callable[["Status", "PracticeView"], str]
"""Paints what to do now for one phone."""


class Sole:
    """The foot on the practice contact: which page treads, and its last tread.

    Treads are numbered by the page, so that one that was overtaken on the way is not done after a later one;
    a page that is gone while it treads has lifted its foot.
    """

    def __init__(self, practice: PracticeSwitches) -> None:
        self._practice = practice
        self._lock = threading.Lock()
        self._page = ""
        self._last = 0
        self._down = False

    def tread(self, page: str, number: int, *, closed: bool) -> None:
        """Close or open the contact, unless a later tread of the same page came first."""
        with self._lock:
            if page and page == self._page and number <= self._last:
                return
            self._page, self._last, self._down = page, number, closed
            self._practice.contact(closed)

    def gone(self, page: str) -> None:
        """Lift the foot of a page that is no longer there."""
        with self._lock:
            if page and page == self._page and self._down:
                self._down = False
                self._practice.contact(False)


def furnish_practice(app: Flask, practice: PracticeSwitches, paint: PaintLead) -> None:
    """Give the app the foot that treads on the practice contact, and what paints what to do now."""
    app.extensions["treadle sole"] = Sole(practice)
    app.extensions["treadle lead"] = paint


def lead_painter(app: Flask, token: str, run: str) -> Painted:
    """Return what paints what to do now for one phone, in one run."""
    paint: PaintLead = app.extensions["treadle lead"]
    return lambda status, view: paint(status, view, signature(token, status.number, run))


def sole_of(app: Flask) -> Sole | None:
    """Return the foot, or None with real lines."""
    found: Sole | None = app.extensions.get("treadle sole")
    return found


def filters_at_hand(plan: Plan | None, in_drawer: str) -> tuple[str, ...]:
    """Return the filters beside the drawer: the usual two, those of the sheet, and the one that is in."""
    wanted = tuple(step.filter for step in plan.steps) if plan else ()
    return tuple(dict.fromkeys(name for name in (*USUAL_FILTERS, *wanted, in_drawer) if name))


def notes_of(cue: str, count: int = 0) -> tuple[tuple[int, int], ...]:
    """Return a cue's notes as (hertz, ms), 0 hertz being silence.

    Raises:
        ValueError: there is no such cue.
    """
    return tuple((note.hertz, note.ms) for note in notes(Cue(cue), count))


def words_of(cue: str, count: int = 0) -> str:
    """Return what a cue says, in words; `count` is the number of its beats, where they say one.

    Raises:
        ValueError: there is no such cue.
    """
    which = Cue(cue)
    if which is Cue.NUMBER:
        return say_many("page.cue-number", count)
    if which is Cue.STOPPED and count:
        return say_many("page.cue-left", count)
    return say(f"page.cue-{which.value.replace(' ', '-')}")


class PracticeSight:
    """One page's look into the simulated darkroom; it tells only what is new."""

    def __init__(self, of: Desk, practice: PracticeSwitches, heard: int, painted: Painted) -> None:
        """Look from cue number `heard` on; below 0, from the present one on (a page does not play old sounds)."""
        self._desk = of
        self._practice = practice
        self._painted = painted
        self._seen: dict[str, object] = {}
        self._lead_of: tuple[object, ...] = ()
        self._heard = heard if heard >= 0 else max((cue.number for cue in of.heard(-1)), default=0)

    def all(self, status: Status) -> dict[str, Any]:
        """Return everything that can be seen at `status`, and the cues since the last one."""
        self._seen, self._lead_of = {}, ()
        return {"heard_to": self._heard, **self.news(status)}

    def news(self, status: Status) -> dict[str, Any]:
        """Return what changed since the last call; empty where nothing did."""
        view, tray = self._practice.view(), self._practice.prints()
        seen = {
            "view": view,
            "stage": self._practice.stage(status),
            "filters": filters_at_hand(status.plan, view.filter_in_drawer),
        }
        told: dict[str, Any] = {
            name: found.model_dump(exclude={"lights"}) if isinstance(found, Frozen) else found
            for name, found in seen.items()
            if found != self._seen.get(name)
        }
        self._seen.update(seen)
        on = (status.number, view.filter_in_drawer, tray.turns() if tray else 0)
        if on != self._lead_of:
            self._lead_of = on
            told["lead"] = self._painted(status, view)
            told["left_ms"] = left_ms(status, self._desk.now_ns())
        heard = self._desk.heard(self._heard)
        if heard:
            self._heard = heard[-1].number
            told["heard"] = [_cue(cue) for cue in heard]
            told["heard_to"] = self._heard
        return told


def left_ms(status: Status, now_ns: int) -> int:
    """Return how much of the light that is on is still to come, 0 where none is or nobody knows."""
    if status.lit is None or status.lit.kind != "step" or status.next is None:
        return 0
    return max(0, status.next.remaining_ms - (now_ns - status.lit.on_ns) // NS_PER_MS)


def _cue(cue: Heard) -> dict[str, Any]:
    return {
        "number": cue.number,
        "words": words_of(cue.cue, cue.count),
        "at_ms": cue.at_ns // NS_PER_MS,
        "notes": notes_of(cue.cue, cue.count),
    }
