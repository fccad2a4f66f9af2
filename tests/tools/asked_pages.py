"""A page's app asked in-process, and each answer held to its laws; what a page offers is learned from it.

No mistake of ours, nothing of the sender's in a page or a header as it is, nothing kept by looking, nobody led away.
"""

from __future__ import annotations

import io
import logging
import random
import re
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import unquote_to_bytes, urlencode, urljoin, urlsplit

from flask import Flask

from tools.hostile import MARK
from webui.frame.device import TOKEN_FIELD

HOST = "localhost"
ORIGIN = f"http://{HOST}"
FORM = ("Content-Type", "application/x-www-form-urlencoded")
LOOKING = frozenset({"GET", "HEAD", "OPTIONS"})
OURS_MAY_SAY = frozenset({503})
"""Of all from 500 up: something is away or full, which is said in words. Everything else is a mistake of ours."""
_MOST = 300
_ID = re.compile(r"/(?:shelf|papers|negatives|carry|carried|sheets|pick|practice/print)/([0-9a-z-]{6,40})(?=[/?.\"]|$)")
_SCAN = re.compile(r"/papers/scan/([0-9a-f]{16,64})/")


@dataclass
class Form:
    """One form of a page, as a browser has it."""

    action: str
    multipart: bool
    fields: list[tuple[str, str, str]] = field(default_factory=list)
    """(name, value, kind)."""


class Forms(HTMLParser):
    """The forms and the addresses of a page."""

    def __init__(self, page: str, dice: random.Random) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.addresses: list[str] = []
        self._dice = dice
        self._form: Form | None = None
        self._select = self._area = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        self.addresses += [has[name] for name in ("href", "src", "action") if has.get(name, "").startswith("/")]
        if tag == "form" and has.get("method", "get").lower() == "post":
            self._form = Form(has.get("action", ""), "multipart" in has.get("enctype", ""))
            self.forms.append(self._form)
        if self._form is None:
            return
        name, put = has.get("name", ""), self._form.fields.append
        if tag in ("input", "button") and name:
            if has.get("type") not in ("checkbox", "radio") or "checked" in has or self._dice.random() < 0.5:
                put((name, has.get("value", ""), has.get("type", tag)))
        elif tag == "select":
            self._select = name
        elif tag == "option" and self._select and ("selected" in has or self._dice.random() < 0.3):
            put((self._select, has.get("value", ""), "select"))
        elif tag == "textarea" and name:
            self._area = name
            put((name, "", "textarea"))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None
        self._select = "" if tag == "select" else self._select
        self._area = "" if tag == "textarea" else self._area

    def handle_data(self, data: str) -> None:
        if self._area and self._form is not None:
            name, value, kind = self._form.fields[-1]
            self._form.fields[-1] = (name, value + data, kind)


@dataclass(frozen=True)
class Asked:
    """One request, whole, so that it can be told."""

    method: str
    path: str
    headers: tuple[tuple[str, str], ...]
    body: bytes
    length: str | None = None
    """A Content-Length that is not the body's."""

    def __str__(self) -> str:
        return f"{self.method} {self.path[:400]} {self.headers} {self.body[:600]!r} length {self.length}"

    def environ(self) -> dict[str, Any]:
        """Return what a server hands to the app."""
        parts = urlsplit(self.path) if self.path.isascii() and "[" not in self.path else None
        path, query = (parts.path, parts.query) if parts else (self.path, "")
        made: dict[str, Any] = {
            "REQUEST_METHOD": self.method,
            "SCRIPT_NAME": "",
            "PATH_INFO": unquote_to_bytes(path).decode("latin-1"),
            "QUERY_STRING": query.encode("utf-8", "replace").decode("latin-1"),
            "SERVER_NAME": HOST,
            "SERVER_PORT": "80",
            "SERVER_PROTOCOL": "HTTP/1.1",
            "REMOTE_ADDR": "127.0.0.1",
            "wsgi.version": (1, 0),
            "wsgi.url_scheme": "http",
            "wsgi.input": io.BytesIO(self.body),
            "wsgi.errors": io.StringIO(),
            "wsgi.multithread": True,
            "wsgi.multiprocess": False,
            "wsgi.run_once": False,
        }
        if self.body or self.length is not None:
            made["CONTENT_LENGTH"] = str(len(self.body)) if self.length is None else self.length
        for name, value in self.headers:
            key = name.upper().replace("-", "_")
            made[key if key == "CONTENT_TYPE" else f"HTTP_{key}"] = value.encode("utf-8", "replace").decode("latin-1")
        return made


@dataclass(frozen=True)
class Answered:
    """What came back."""

    status: int
    headers: tuple[tuple[str, str], ...]
    body: bytes

    def header(self, name: str) -> str:
        return next((value for key, value in self.headers if key.lower() == name), "")


class Asker:
    """Asks an app, holds it to its laws, and keeps each that was broken, in words."""

    def __init__(self, app: Flask, stores: Stores, dice: random.Random) -> None:
        self.app, self.dice, self.stores = app, dice, stores
        self.phones: list[tuple[str, str]] = []
        """(cookie, token) of each paired phone."""
        self.broken: list[str] = []
        self.statuses: Counter[int] = Counter()
        self.routes: Counter[str] = Counter()
        self.forms: dict[str, dict[str, Form]] = {}
        """The forms of each address, ids left out, by their fields' names: some have many."""
        self.ids: dict[str, None] = {}
        self.scans: dict[str, None] = {}
        self.addresses: dict[str, None] = {}
        self.names: dict[str, None] = dict.fromkeys(("part", "heard", "page", "code", "back", "version", "of", "q"))
        """Of fields, as forms and addresses have shown them."""
        self.learning = 1.0
        """How many of the pages are taken apart, which takes as long as to make one."""
        self.snapshot = self.run = ""
        self.rules = [
            (rule.rule, sorted((rule.methods or set()) - {"HEAD", "OPTIONS"})) for rule in app.url_map.iter_rules()
        ]
        app._seldom.may = lambda _what: True  # each mistake is to be seen, not one a minute
        self._log = Mistakes()
        logging.getLogger().addHandler(self._log)

    def close(self) -> None:
        logging.getLogger().removeHandler(self._log)

    # ---- one that is good

    def pair(self, code: str) -> None:
        """Pair one more phone by a code."""
        form = urlencode({"code": code}).encode()
        told = self.send(Asked("POST", "/pair", (("Host", HOST), ("Origin", ORIGIN), FORM), form))
        cookie = next((value for name, value in told.headers if name.lower() == "set-cookie"), "").partition(";")[0]
        page = self.send(Asked("GET", "/now", (("Host", HOST), ("Cookie", cookie)), b""))
        token = re.search(rb'name="token" value="([0-9a-f]{64})"', page.body)
        assert token, page.body[:300]
        self.phones.append((cookie, token[1].decode()))

    def look(self, path: str) -> Answered:
        """Look at a page as a paired phone does."""
        return self.look_as(self.phones[0], path)

    def look_as(self, phone: tuple[str, str], path: str) -> Answered:
        """Look at a page as one of the phones does."""
        return self.send(Asked("GET", path, self._good(phone), b""))

    def press(self, path: str, **fields: object) -> Answered:
        """Press a button as a paired phone does."""
        form = {TOKEN_FIELD: self.phones[0][1], "number": self.snapshot, "run": self.run, **fields}
        headers = (*self._good(self.phones[0]), ("Origin", ORIGIN), ("Accept", "application/json"), FORM)
        return self.send(Asked("POST", path, headers, urlencode(form).encode()))

    def all_routes(self) -> None:
        """Look at every page there is once, so that their forms are known."""
        for rule, methods in self.rules:
            if "GET" in methods:
                for each in list(self.ids) if "<s" in rule or "<c" in rule else [""]:
                    self.look(re.sub(r"<[^>]+>", each or "x", rule))

    def _good(self, phone: tuple[str, str]) -> tuple[tuple[str, str], ...]:
        return (("Host", HOST), ("Cookie", phone[0]))

    # ---- sending and judging

    def send(self, asked: Asked) -> Answered:
        """Send a request, judge the answer, and learn from it."""
        looking = asked.method in LOOKING
        before = self.stores.mark() if looking else None
        told = self._told(asked)
        self.statuses[told.status] += 1
        self._judge(asked, told)
        if looking and self.stores.mark() != before:
            self.broken.append(f"looking changed what is kept: {asked}")
        self._learn(told)
        return told

    def _told(self, asked: Asked) -> Answered:
        seen: list[Any] = []

        def start(status: str, headers: list[tuple[str, str]], exc_info: object = None) -> Callable[[bytes], object]:
            seen[:] = [status, headers]
            return seen.append

        environ = asked.environ()
        try:
            parts = self.app(environ, start)
            try:
                stream = any("event-stream" in value for _, value in (seen[1] if seen else ()))
                body = next(iter(parts), b"") if stream else b"".join(parts)
            finally:
                if hasattr(parts, "close"):
                    parts.close()
        except Exception as problem:  # noqa: BLE001 - whatever it is, it is a mistake of ours, and told
            self.broken.append(f"{type(problem).__name__}: {problem}, for {asked}")
            return Answered(500, (), b"")
        self.routes[str(self._rule_of(environ))] += 1
        return Answered(int(seen[0].split()[0]), tuple(seen[1]), body)

    def _rule_of(self, environ: dict[str, Any]) -> str:
        try:
            return str(self.app.url_map.bind("localhost").match(environ["PATH_INFO"], environ["REQUEST_METHOD"])[0])
        except Exception:  # noqa: BLE001 - no route of ours
            return "none"

    def _judge(self, asked: Asked, told: Answered) -> None:
        for problem in self._log.taken():
            self.broken.append(f"in the log: {problem}\nfor {asked}")
        if told.status >= 500 and told.status not in OURS_MAY_SAY:
            self.broken.append(f"{told.status} for {asked}")
        kind = told.header("content-type")
        if MARK.encode() in told.body and not kind.startswith(("text/csv", "application/json", "text/event-stream")):
            at = told.body.index(MARK.encode())
            self.broken.append(f"unescaped in {kind}: {told.body[max(0, at - 99) : at + 20]!r} for {asked}")
        for name, value in told.headers:
            if name.lower() == "x-split" or {"\r", "\n"} & set(name + value):
                self.broken.append(f"a header of the sender's, {name}: {value!r}, for {asked}")
        where = told.header("location")
        if where and urlsplit(urljoin(ORIGIN, where.replace("\\", "/"))).netloc != HOST:
            self.broken.append(f"led elsewhere, {where!r}, for {asked}")

    def _learn(self, told: Answered) -> None:
        if told.status != 200 or "text/html" not in told.header("content-type"):
            return
        page = told.body.decode("utf-8", "replace")
        if found := re.search(r'data-run="([0-9a-f]+)" data-number="(\d+)"', page):
            self.run, self.snapshot = found[1], found[2]
        if self.dice.random() > self.learning:
            return
        forms = Forms(page, self.dice)
        for form in forms.forms:
            names = ",".join(sorted({re.sub(r"\d+", "0", name) for name, *_ in form.fields}))
            action = re.sub(r"/[0-9a-z]{8}(?=[/?#]|$)", "/ID", form.action)
            _put(self.forms.setdefault(action, {}), names[:300], form, 12)
            self.names.update(dict.fromkeys(name for name, *_ in form.fields))
        for address in forms.addresses:
            self.names.update(dict.fromkeys(re.findall(r"[?&]([\w-]+)=", address)))
            if not address.startswith("/static/"):
                _put(self.addresses, address, None)
            for found in _ID.finditer(address):
                _put(self.ids, found[1], None)
        for found in _SCAN.finditer(page):
            _put(self.scans, found[1], None)


def _put(where: dict[str, Any], name: str, value: Any, most: int = _MOST) -> None:
    """Put something in, in the place of the oldest where there is enough."""
    where[name] = value
    if len(where) > most:
        where.pop(next(iter(where)))


class Mistakes(logging.Handler):
    """Everything in the log that a mistake of ours leaves there: a traceback, or an error."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self._found: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        if record.exc_info or record.levelno >= logging.ERROR or "Traceback" in record.getMessage():
            self._found.append(logging.Formatter("%(name)s: %(message)s").format(record)[-3000:])

    def taken(self) -> list[str]:
        found, self._found = self._found, []
        return found


@contextmanager
def logged(handler: Mistakes) -> Iterator[Mistakes]:
    """Listen to the whole log."""
    logging.getLogger().addHandler(handler)
    try:
        yield handler
    finally:
        logging.getLogger().removeHandler(handler)


_GROWING = ((0, "rows"), (1, "kept"), (1, "away"))


class Stores:
    """Tells whether anything has been kept: in journal and shelf, and in the folders beside them."""

    def __init__(self, folder: Path, beside: Iterable[str] = ("scans", "practice")) -> None:
        self._folders = [folder / name for name in beside]
        self._leaving = ExitStack()
        self._asked = [
            self._leaving.enter_context(closing(sqlite3.connect(f"file:{folder / name}?mode=ro", uri=True)))
            for name in ("journal.db", "shelf.db")
        ]

    def mark(self) -> tuple[object, ...]:
        """Return what is another as soon as anything was kept: both files only ever grow."""
        numbers = [
            self._asked[which].execute(f"SELECT max(number) FROM {table}").fetchone() for which, table in _GROWING
        ]
        places = [place for folder in self._folders if folder.is_dir() for place in folder.iterdir()]
        return (*numbers, *sorted((str(place), place.stat().st_mtime_ns) for place in places))

    def close(self) -> None:
        self._leaving.close()
