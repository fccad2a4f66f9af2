"""Which face a page may show: day only on the daemon's word, with no sheet open; dark in every doubt."""

from __future__ import annotations

import re
import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from functools import wraps
from ipaddress import AddressValueError, IPv6Address
from typing import TYPE_CHECKING, Final, ParamSpec
from urllib.parse import urlsplit

from flask import Flask, g, make_response, redirect, render_template, request
from markupsafe import Markup
from werkzeug.exceptions import HTTPException
from werkzeug.sansio.utils import get_host

from controller.addresses import is_address, url
from controller.errors import KeeperGone
from controller.words import say
from webui.frame.context import day_allowed, desk, now, room
from webui.frame.device import TOKEN_FIELD, device, read_device, still_in, token, token_fits
from webui.frame.refusals import refuse, refuse_unpaired, wants_json
from webui.frame.trays import trays_of, white_refused, why_refused
from webui.wording import refusal_for

if TYPE_CHECKING:
    from flask import Response
    from flask.typing import ResponseReturnValue

    from webui.frame.context import Room


P = ParamSpec("P")


def needs_day(view: Callable[P, ResponseReturnValue]) -> Callable[P, ResponseReturnValue]:
    """Let a page be seen by day only; by night say which sheet is open and how the day face can be had."""

    @wraps(view)
    def looked(*args: P.args, **kwargs: P.kwargs) -> ResponseReturnValue:
        if not day_allowed():
            return no_day()
        g.needs_day = True  # the page goes inert when the day face ends under it
        _use_day()
        return view(*args, **kwargs)

    return looked


def waits_for_day(view: Callable[P, ResponseReturnValue]) -> Callable[P, ResponseReturnValue]:
    """Let a post be answered at any time, for what was typed is in it; its page is inert while the day face is away."""

    @wraps(view)
    def looked(*args: P.args, **kwargs: P.kwargs) -> ResponseReturnValue:
        g.needs_day = True
        _use_day()
        return view(*args, **kwargs)

    return looked


def _use_day() -> None:
    """Let the day face last at a button that was pressed on a page of it; looking at one does not hold it."""
    if request.method == "POST" and day_allowed():
        with suppress(KeeperGone):  # the day is then over soon enough
            desk().used()


def no_day() -> ResponseReturnValue:
    """Return the refusal of a page that is for the lit room."""
    status = now()
    waits = white_refused(status)
    sentence = waits or status.day_refused or say("page.day-asked")
    if wants_json():
        return refuse(409, sentence)
    back = request.full_path.rstrip("?") if request.method == "GET" else "/"
    white = trays_of(status).white if waits else None
    told = why_refused(status) if white else sentence
    return make_response(render_template("no_day.html", sentence=told, white=white, back=back), 409)


OPEN: Final = frozenset({"pairing.pair", "pairing.pair_now", "pairing.health", "pairing.no_icon"})
"""What an unpaired phone may see."""
STOP_PATH: Final = "/stop"
STOP: Final = "stop.stop"
"""Past every rule but two: the cookie and Origin."""
UNCOUNTED: Final = frozenset({STOP, "practice.contact"})
"""A foot may tread as often as it likes."""

ACTS_AT_MOST: Final = 40
ACTS_WITHIN_NS: Final = 10_000_000_000
ACTS_AT_ONCE: Final = 4
"""Posts under way together; one more is refused, so that looking never waits behind writing."""
_NUMBER: Final = re.compile(r"(?:(?P<four>[0-9.]+)|\[(?P<six>[0-9A-Fa-f:.]+)(?:%[0-9A-Za-z_.%-]+)?\])(?::[0-9]{1,5})?")


def watch(app: Flask) -> None:
    """Stand before every route of `app`; every rule that cannot be checked refuses."""
    counter, gate = Counter(), threading.BoundedSemaphore(ACTS_AT_ONCE)

    @app.before_request
    def check() -> ResponseReturnValue | None:
        """Return a refusal, or None where the request may go on."""
        if not (host_is_ours(request.host, room()) or is_number(request.headers.get("Host", ""))):
            return refuse(403, say("page.refused-host", address=_an_address()))
        end = request.endpoint
        posting = request.method not in {"GET", "HEAD", "OPTIONS"}
        if posting and not origin_is_ours(request.headers.get, request.scheme, request.host):
            return refuse(403, say("page.refused-origin"))
        if end in OPEN:
            return None
        phone = device()
        if phone is None:
            return refuse_unpaired()
        if end == STOP:
            return None
        desk().phones().seen(phone.mark)
        if not posting:
            return None
        if refused := _unreadable():
            return refuse(refused, refusal_for(refused))
        if None in request.form or None in request.files:  # a part without a name, which no page of ours sends
            return refuse(400, refusal_for(400))
        if not token_fits(phone):
            return refuse(403, say("page.refused-token"))
        if end not in UNCOUNTED and not counter.one_more(phone.mark, desk().now_ns()):
            return refuse(429, say("page.refused-often"), wait_s=10)
        if not gate.acquire(blocking=False):
            return refuse(503, say("page.refused-busy"), wait_s=1)
        g.gate = gate
        return None

    @app.after_request
    def no_white(answer: Response) -> Response:
        """Lead whoever opens what is no page of ours as one to the first page: a browser shows it on white.

        What it has kept of a picture counts as shown, so "not modified" is no answer either.
        """
        ours = answer.mimetype == "text/html" and answer.status_code != 304
        if ours or not opened_as_page() or "attachment" in answer.headers.get("Content-Disposition", ""):
            return answer
        answer.close()
        return app.make_response(redirect("/", 303))

    @app.teardown_request
    def done(_error: BaseException | None) -> None:
        """Give the place in the gate back."""
        if held := g.pop("gate", None):
            held.release()


def opened_as_page() -> bool:
    """Tell whether the answer will stand in a tab of its own; a browser that does not say so asks for a page first."""
    to = request.headers.get("Sec-Fetch-Dest")
    return to == "document" if to else "text/html" in request.headers.get("Accept", "")


class Counter:
    """How often each phone posted within the last seconds."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._times: dict[str, deque[int]] = {}

    def one_more(self, mark: str, at_ns: int) -> bool:
        """Count one post of a phone at `at_ns`; False where it is one too many (which then does not count)."""
        with self._lock:
            for other, times in list(self._times.items()):
                while times and at_ns - times[0] > ACTS_WITHIN_NS:
                    times.popleft()
                if not times:
                    del self._times[other]
            times = self._times.setdefault(mark, deque())
            if len(times) >= ACTS_AT_MOST:
                return False
            times.append(at_ns)
            return True


def plain_host(host: str) -> str:
    """Return a name or address as it is compared: lower case, no port, no closing dot, IPv6 in its short form."""
    host = host.strip().lower()
    if host.startswith("["):
        host = host[1:].partition("]")[0]
    elif host.count(":") == 1:
        host = host.partition(":")[0]
    try:
        return IPv6Address(host.partition("%")[0]).compressed
    except AddressValueError:
        return host.removesuffix(".")


def is_number(host: str) -> bool:
    """Tell whether a Host is an address in numbers, an IPv6 one in brackets, and no name that anybody gives out."""
    parts = _NUMBER.fullmatch(host)
    return parts is not None and is_address(parts["four"] or parts["six"])


def hidden(name: str, value: object) -> Markup:
    """Return one hidden field of a form."""
    return Markup('<input type="hidden" name="{}" value="{}">').format(name, value)


def sign_form() -> Markup:
    """Return the hidden fields of a POST form: the phone's token, and the snapshot the act is decided on."""
    phone = device()
    return signature(token(phone) if phone else "", now().number, room().run)


def signature(phone_token: str, number: int, run: str) -> Markup:
    """Return the hidden fields that a form needs: whose it is, and which snapshot of which run it was decided on."""
    return hidden(TOKEN_FIELD, phone_token) + hidden("number", number) + hidden("run", run)


def host_is_ours(host: str, web: Room) -> bool:
    """Tell whether the page may be had under this Host: any number, for only a name can be led astray, or our names.

    What this machine is called, and its addresses all the more, may change at any time: they are asked for each time.
    """
    return is_number(host) or plain_host(host) in _names(web)


def may_stop(header: Callable[[str], str | None], scheme: str, web: Room) -> bool:
    """Tell whether these are the headers of a paired phone's STOP from our own page; what is unreadable is not."""
    if still_in(read_device(header("Cookie") or "", web.desk.key()), web.desk) is None:
        return False
    try:
        host = get_host(scheme, header("Host"))
    except (HTTPException, ValueError):
        return False
    return host_is_ours(host, web) and origin_is_ours(header, scheme, host)


def _names(web: Room) -> tuple[str, ...]:
    return tuple(plain_host(name) for name in web.names())


def _an_address() -> str:
    """Return an address that does work, for the refusal: the best name that this machine has, with the port."""
    best = next(iter(_names(room())), "localhost")
    return url(best, int(request.environ["SERVER_PORT"]), secure=room().secure)


def origin_is_ours(header: Callable[[str], str | None], scheme: str, host: str) -> bool:
    """Tell whether our own page sent this; a browser that sends no Origin must say so in Sec-Fetch-Site."""
    origin = header("Origin")
    if origin is None:
        return header("Sec-Fetch-Site") == "same-origin"
    try:
        parts = urlsplit(origin)
    except ValueError:  # brackets that enclose no address
        return False
    return parts.scheme == scheme and parts.netloc.lower() == host.lower()


def _unreadable() -> int:
    """Return the status of the refusal of a form that cannot be read: too large, or the card is full; 0 if it can."""
    try:
        request.form.get(TOKEN_FIELD)
    except HTTPException:
        return 413
    except OSError:
        return 507
    return 0
