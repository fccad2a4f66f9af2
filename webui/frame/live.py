"""The daemon's word to a page that is being looked at: a bounded event stream, with polling where there is no room."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any, Final, Literal

from flask import Blueprint, Flask, Response, current_app, request
from jinja2 import Environment

from controller.words import say
from hardware.clock import NS_PER_MS
from webui.frame.context import desk, now, room
from webui.frame.device import Device, device, token
from webui.frame.guard import signature
from webui.frame.panel import desk_panel
from webui.frame.practice_sight import PracticeSight, lead_painter, sole_of
from webui.frame.refusals import refuse
from webui.frame.trays import white_refused
from webui.wording import lit_line

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.daemon.desk import Desk
    from controller.foot.status import Status

blueprint = Blueprint("live", __name__)

STREAMS: Final = 24
"""Event streams at once; each holds a thread of the server."""
LASTS_NS: Final = 60_000_000_000
"""A stream ends after a minute, and the page asks for the next one."""
BEAT_S: Final = 0.7
"""The word is renewed at least so often: two may be lost before a page turns dark."""
GLANCE_S: Final = 0.04
"""A practice page looks so often for sounds and for the lamp, which have no snapshot of their own."""

Part = Literal["word", "now", "practice"]
_HERE: Final = "\x00token\x00"


class Streams:
    """How many streams are open, and whether they must end."""

    def __init__(self, most: int = STREAMS) -> None:
        self._room = threading.BoundedSemaphore(most)
        self.ending = threading.Event()

    def enter(self) -> bool:
        """Take a place; False where there is none."""
        return not self.ending.is_set() and self._room.acquire(blocking=False)

    def leave(self) -> None:
        """Give the place back."""
        self._room.release()


class Painter:
    """Paints the panel once a snapshot, however many phones look; the token is filled in for each."""

    def __init__(self, words: Environment, run: str) -> None:
        self._words = words
        self.run = run
        self._lock = threading.Lock()
        self._painted: tuple[tuple[int, bool], str] | None = None

    def paint(self, status: Status, of: Desk, phone_token: str, *, day: bool) -> str:
        """Return the panel's HTML for one phone."""
        key = (status.number, day)
        with self._lock:
            if self._painted is None or self._painted[0] != key:
                sign = signature(_HERE, status.number, self.run)
                panel = desk_panel(status, of)
                html = self._words.get_template("panel.html").render(now=status, panel=panel, day=day, sign=sign)
                self._painted = (key, html)
            return self._painted[1].replace(_HERE, phone_token)


def _never() -> bool:
    return False


@dataclass(frozen=True, slots=True)
class Looker:
    """One page that looks: what it shows, whose it is, and the last it has seen."""

    part: Part
    token: str
    number: int = -1
    heard: int = -1
    out: Callable[[], bool] = _never
    """Whether the phone was put out since."""


def furnish_live(app: Flask, run: str) -> None:
    """Give the app its streams and its painter."""
    app.extensions["treadle streams"] = Streams()
    app.extensions["treadle painter"] = Painter(app.jinja_env, run)


def end_streams(app: Flask) -> None:
    """Let every open stream end at its next beat, and open no more: the server is closing."""
    _streams(app).ending.set()


def word_for(status: Status) -> dict[str, Any]:
    """Return the word to the page that sent the present request."""
    return word_of(status, desk(), _painter(current_app), _looker())


def word_of(status: Status, of: Desk, painter: Painter, looker: Looker) -> dict[str, Any]:
    """Return what a page is told of `status`: the state of the light always, the panel only where it changed."""
    left_ns = 0 if status.day_until_ns is None else max(0, status.day_until_ns - of.now_ns())
    refused = white_refused(status)
    word: dict[str, Any] = {
        "run": painter.run,
        "number": status.number,
        "place": status.place,
        "clock_ms": of.now_ns() // NS_PER_MS,
        "day_ms": left_ns // NS_PER_MS,
        "lit": status.lit is not None,
        "stop": status.stop_possible,
        "line": lit_line(status),
        "loaded": loaded_words(status),
        "white": not status.day_refused,
        "no_paper": bool(refused) and "no paper in the trays" in status.can,
        "dark_why": "" if left_ns else refused or status.day_refused or say("page.day-over"),
    }
    if looker.part != "word" and status.number != looker.number:
        word["html"] = painter.paint(status, of, looker.token, day=left_ns > 0)
    return word


def loaded_words(status: Status) -> dict[str, str]:
    """Return what is loaded, so that a phone knows whether it was its own choice."""
    return {"id": status.plan.source, "title": status.plan.title} if status.plan else {"id": "", "title": ""}


@blueprint.get("/live")
def stream() -> ResponseReturnValue:
    """Stream the word until a minute is over, the page is gone, or the server closes; 503 where there is no room."""
    if request.method == "HEAD":  # it has no body whose end would give the place back
        return ""
    streams, looker, gone = (
        _streams(current_app),
        _looker(),
        request.environ.get("waitress.client_disconnected", _never),
    )
    of, sight = desk(), _sight(desk(), looker)
    if not streams.enter():
        return refuse(503, say("page.refused-streams"), wait_s=30)
    words = _talk(of, streams, _painter(current_app), looker, sight, lambda: gone() or looker.out())
    sole, page = sole_of(current_app), request.args.get("page", "")
    answer = Response(words, mimetype="text/event-stream", headers={"X-Accel-Buffering": "no"})
    # The place is given back with the answer, even where the page left before the first word.
    answer.call_on_close(streams.leave)
    if sole is not None:
        answer.call_on_close(lambda: sole.gone(page) if gone() else None)
    return answer


@blueprint.get("/status.json")
def poll() -> ResponseReturnValue:
    """Tell the word once, for pages without a stream."""
    sight = _sight(desk(), _looker())
    return {**word_for(now()), **(sight.all(now()) if sight else {})}


def _talk(
    of: Desk,
    streams: Streams,
    painter: Painter,
    looker: Looker,
    sight: PracticeSight | None,
    gone: Callable[[], bool],
) -> Iterator[str]:
    """Yield events: the word at once, at every change, and as a beat; "again" when the stream's time is over."""
    yield "retry: 300\n\n"
    number, heard_ns = looker.number, of.now_ns() - int(BEAT_S * 1e9)
    until_ns = of.now_ns() + LASTS_NS
    while not streams.ending.is_set() and not gone():
        status = of.wait(number, GLANCE_S if sight else BEAT_S)
        now_ns = of.now_ns()
        if now_ns >= until_ns:
            yield "event: again\ndata: {}\n\n"
            return
        seen = sight.news(status) if sight else {}
        if status.number == number and not seen and now_ns - heard_ns < BEAT_S * 1e9 * 0.9:
            continue
        word = word_of(status, of, painter, replace(looker, number=number))
        number, heard_ns = status.number, now_ns
        yield f"id: {number}\ndata: {json.dumps({**word, **seen}, separators=(',', ':'))}\n\n"


def _looker() -> Looker:
    part = request.args.get("part", "word")
    phone = device()
    assert isinstance(phone, Device)  # the guard lets nobody else in
    same_run = request.args.get("run") == room().run
    return Looker(
        part="now" if part == "now" else "practice" if part == "practice" else "word",
        token=token(phone),
        number=request.args.get("number", -1, type=int) if same_run else -1,
        heard=request.args.get("heard", -1, type=int) if same_run else -1,
        out=partial(desk().phones().is_out, phone.mark),
    )


def _sight(of: Desk, looker: Looker) -> PracticeSight | None:
    practice = of.practice()
    if practice is None or looker.part != "practice":
        return None
    return PracticeSight(of, practice, looker.heard, lead_painter(current_app, looker.token, room().run))


def _streams(app: Flask) -> Streams:
    found: Streams = app.extensions["treadle streams"]
    return found


def _painter(app: Flask) -> Painter:
    found: Painter = app.extensions["treadle painter"]
    return found
