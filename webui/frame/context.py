"""What every page of one running web room shares: the desk, and the request's own snapshot of it."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, cast

from flask import Flask, current_app, g, request

if TYPE_CHECKING:
    from controller.daemon.desk import Desk
    from controller.foot.status import Status
    from controller.store.records import SheetRecord

_PLACE = "treadle"


@dataclass(frozen=True, slots=True)
class Room:
    """The things that live as long as the app."""

    desk: Desk
    names: Callable[[], Sequence[str]]
    """Returns the names this page answers to now, without port, the best one first."""
    secure: bool
    """The page is served by https: the cookie is then never sent in the clear."""
    run: str = field(default_factory=lambda: secrets.token_hex(4))
    """Snapshot numbers begin anew with the daemon; this tells one run's from another's."""


def furnish(app: Flask, room: Room) -> None:
    """Give the room to the app."""
    app.extensions[_PLACE] = room


def room() -> Room:
    """Return the room of the app that answers the present request."""
    return room_of(current_app)


def room_of(app: Flask) -> Room:
    """Return the room of an app."""
    return cast("Room", app.extensions[_PLACE])


def desk() -> Desk:
    """Return the controller's public face."""
    return room().desk


def now() -> Status:
    """Return the snapshot this request is answered on: looked at once, so that a page agrees with itself."""
    if "now" not in g:
        g.now = desk().status()
    return cast("Status", g.now)


def look_again() -> Status:
    """Return the snapshot after an act, and answer the rest of the request on it."""
    g.now = desk().status()
    return cast("Status", g.now)


def decided_on() -> int:
    """Return the snapshot that a form was decided on: one of another run is none of this one."""
    number = request.form.get("number", -1, type=int)
    return number if request.form.get("run", room().run) == room().run else -1


def day_allowed() -> bool:
    """Tell whether this request may be answered in the day face."""
    until = now().day_until_ns
    return until is not None and desk().now_ns() < until


def leads_on(record: SheetRecord, status: Status) -> bool:
    """Tell whether a strip's negative is the one that stands at the enlarger still: then its pick leads on."""
    bench = record.plan.bench
    return bench is not None and bool(bench.negative) and bench.negative == status.bench.negative


def is_next(source: str, version: int) -> bool:
    """Tell whether this very version of a recipe or strip is what the next sheet gets."""
    plan = now().plan
    return plan is not None and (plan.source, plan.version) == (source, version)
