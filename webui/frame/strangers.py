"""What whoever is not paired is answered: mostly bytes made beforehand, so that a crowd costs next to nothing.

The interpreter runs one thread at a time. A crowd that had pages made for it would hold STOP up however many lanes
there are; so it is answered by the thread that reads, and few of its requests come as far as the app.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from functools import lru_cache
from http import HTTPStatus
from ipaddress import IPv6Address
from typing import TYPE_CHECKING, Any, Final, Protocol

from werkzeug.exceptions import HTTPException
from werkzeug.sansio.utils import get_host
from werkzeug.test import create_environ, run_wsgi_app

from webui.frame.assets import ALWAYS, csp_hash
from webui.frame.context import room_of
from webui.frame.guard import host_is_ours, is_number
from webui.frame.red import LEVELS, colour
from webui.wording import refusal_for

if TYPE_CHECKING:
    from flask import Flask

    from controller.foot.status import Health

A_SECOND: Final = 10
"""Requests of one address's unpaired devices that the app is asked to answer; the others are told to come again."""
A_SECOND_IN_ALL: Final = 20
AT_ONCE_S: Final = 2
"""So many seconds' worth may come at once."""
ADDRESSES: Final = 500
"""So many addresses are told apart at a time."""
_STYLE: Final = (
    f"html{{background:#000;color:{colour(LEVELS[0].ink)};color-scheme:dark}}"
    "body{font:1.25rem sans-serif;padding:20px}"
)
_BOUND: Final = f"default-src 'none'; style-src {csp_hash(_STYLE)}; frame-ancestors 'none'; base-uri 'none'"


class Budget:
    """How many requests may still be answered: so many a second, and a few seconds' worth at once."""

    def __init__(self, a_second: float, clock: Callable[[], float]) -> None:
        self._a_second, self._clock = a_second, clock
        self._left, self._at = a_second * AT_ONCE_S, clock()

    def take(self) -> bool:
        """Take one; False where there is none."""
        now = self._clock()
        self._left = min(self._a_second * AT_ONCE_S, self._left + (now - self._at) * self._a_second)
        self._at = now
        if self._left < 1:
            return False
        self._left -= 1
        return True


class Asked(Protocol):
    """A request as it was read."""

    command: str
    path: str
    query: str
    url_scheme: str
    headers: dict[str, str]
    error: Any
    paired: bool


class Answers:
    """The answers to the unpaired of one app. For one thread."""

    def __init__(self, app: Flask, clock: Callable[[], float] = time.monotonic) -> None:
        """Have the app make its answers to strangers once: none of them depends on how things stand."""
        self._web, self._clock = room_of(app), clock
        self._refused = {script: _made(app, "/", script=script) for script in (True, False)}
        self._pair = _made(app, "/pair", script=False)
        self._icon = _made(app, "/favicon.ico", script=False)
        self._all = Budget(A_SECOND_IN_ALL, clock)
        self._each: dict[str, Budget] = {}
        self._health: tuple[Health, bytes] | None = None

    def answer(self, request: Asked, address: str) -> bytes | None:
        """Return what a request from `address` is answered at once; None where the app is to answer."""
        if request.error is not None:
            return fixed_refusal(request.error.code)
        if request.paired:
            return None
        said = self._said(request)
        if said is None and not self._may_ask(address):
            said = fixed_refusal(503, wait_s=1)
        if said is not None and request.command == "HEAD":
            return said.partition(b"\r\n\r\n")[0] + b"\r\n\r\n"
        return said

    def _said(self, request: Asked) -> bytes | None:
        accept = request.headers.get("ACCEPT", "")
        script = "application/json" in accept and "text/html" not in accept
        path = "/" + request.path.lstrip("/")
        looking = request.command in {"GET", "HEAD"}
        if looking and not self._at_home(request):
            return None
        match path:
            case "/pair" if not looking or request.query:
                return None if looking or request.command == "POST" else self._refused[script]
            case "/pair":
                return self._pair
            case "/favicon.ico" if looking:
                return self._icon
            case "/health" if looking:
                return None if "text/html" in accept else self._healthy()
        return self._refused[script]

    def _at_home(self, request: Asked) -> bool:
        try:
            host = get_host(request.url_scheme, request.headers.get("HOST"))
            return host_is_ours(host, self._web) or is_number(request.headers.get("HOST", ""))
        except (HTTPException, ValueError):
            return False

    def _healthy(self) -> bytes:
        told = self._web.desk.health()
        if self._health is None or self._health[0] != told:
            body = json.dumps(told.model_dump()).encode() + b"\n"
            self._health = told, fixed(200 if told.ok else 503, body, "application/json")
        return self._health[1]

    def _may_ask(self, address: str) -> bool:
        if address not in self._each:
            if len(self._each) >= ADDRESSES:
                self._each.clear()
            self._each[address] = Budget(A_SECOND, self._clock)
        return self._each[address].take() and self._all.take()


def whose(address: str) -> str:
    """Return what counts as one address: for IPv6 the network, within which a device may take as many as it likes."""
    if ":" not in address:
        return address
    try:
        return IPv6Address(address.partition("%")[0]).packed[:8].hex()
    except ValueError:
        return address


def refusal_body(code: int) -> bytes:
    """Return a refusal of the server's own as a sentence on black."""
    return (
        "<!doctype html><html lang=en><meta charset=utf-8><meta name=color-scheme content=dark>"
        "<meta name=viewport content='width=device-width,initial-scale=1'>"
        f"<style>{_STYLE}</style><p>{refusal_for(code)}</p>"
    ).encode()


REFUSAL_HEADERS: Final = {
    **ALWAYS,
    "Content-Type": "text/html; charset=utf-8",
    "Content-Security-Policy": _BOUND,
}


@lru_cache(maxsize=32)
def fixed_refusal(code: int, *, wait_s: int | None = None) -> bytes:
    """Return all the bytes of such a refusal."""
    return fixed(code, refusal_body(code), "text/html; charset=utf-8", wait_s=wait_s)


def fixed(code: int, body: bytes, kind: str, *, wait_s: int | None = None) -> bytes:
    """Return all the bytes of an answer after which the connection is closed."""
    headers = {**REFUSAL_HEADERS, "Content-Type": kind}
    if wait_s is not None:
        headers["Retry-After"] = str(wait_s)
    return _bytes(f"{code} {HTTPStatus(code).phrase}", list(headers.items()), body)


def _bytes(status: str, headers: list[tuple[str, str]], body: bytes) -> bytes:
    kept = [each for each in headers if each[0].lower() not in {"content-length", "connection"}]
    length = [] if status.startswith("204") else [("Content-Length", str(len(body)))]
    lines = [f"{name}: {value}" for name, value in (*kept, *length, ("Connection", "close"))]
    return "\r\n".join([f"HTTP/1.1 {status}", *lines, "", ""]).encode("latin-1") + body


def _made(app: Flask, path: str, *, script: bool) -> bytes:
    """Return all the bytes of what the app says to a stranger who asks for `path`."""
    asked: dict[str, Any] = {"Accept": "application/json" if script else "text/html"}
    environ = create_environ(path, "http://127.0.0.1", headers=asked)
    parts, status, headers = run_wsgi_app(app.wsgi_app, environ, buffered=True)
    return _bytes(status, list(headers), b"".join(parts))
