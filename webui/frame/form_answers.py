"""What becomes of a form that is sent: a page that is come back to without sending it again, and one result for each.

A page that answers a post is kept for a while and led to by its own address: so neither Back nor a reload asks whether
to send the form once more (which a browser asks on white), and what was typed is still there. It is painted anew each
time, in the face that is allowed then. A form's one-time mark makes a second tap lead where the first one led.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
from collections import OrderedDict, deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, cast
from urllib.parse import quote

from flask import Flask, current_app, g, make_response, redirect, render_template, request
from markupsafe import Markup

from webui.frame.device import TOKEN_FIELD, device

if TYPE_CHECKING:
    from flask import Response
    from flask.typing import ResponseReturnValue

PAGES_KEPT: Final = 24
"""Answers to come back to, of all phones together; the oldest makes room."""
RESULTS_KEPT: Final = 64
"""Results that a second tap is led to."""
WAIT_S: Final = 8
"""How long a second tap waits for what the first one comes to."""
MARK_FIELD: Final = "once"
_LONGEST_MARK: Final = 40
_OF_THE_MOMENT: Final = frozenset({TOKEN_FIELD, "number", "run"})
_PLACE: Final = "treadle form answers"


@dataclass(frozen=True, slots=True)
class PageKept:
    """A page as it answered a post: whose it is, and what it is painted of."""

    owner: str
    template: str
    status: int
    home: str
    """The address of the empty form, for when the page is no longer kept."""
    pictures: bool
    context: dict[str, Any] = field(repr=False)


@dataclass(slots=True)
class Sent:
    """A form that was sent: done once it has led somewhere."""

    done: threading.Event = field(default_factory=threading.Event)
    led_to: str = ""


@dataclass(frozen=True, slots=True)
class Kept:
    """A form that did what it asked for: whose it was, and its mark."""

    owner: str
    mark: str


class FormAnswers:
    """The answers that are kept, a few of them, in memory alone."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._pages: OrderedDict[str, PageKept] = OrderedDict()
        self._sent: OrderedDict[str, Sent] = OrderedDict()
        self._kept: deque[Kept] = deque(maxlen=RESULTS_KEPT)

    def keep(self, page: PageKept) -> str:
        """Keep a page, and return the key that it is had by."""
        key = secrets.token_urlsafe(12)
        with self._lock:
            self._pages[key] = page
            while len(self._pages) > PAGES_KEPT:
                self._pages.popitem(last=False)
        return key

    def page(self, key: str, owner: str) -> PageKept | None:
        """Return a page that this phone was shown, where it is still kept."""
        with self._lock:
            page = self._pages.get(key)
        return page if page is not None and page.owner == owner else None

    def first(self, key: str) -> Sent | None:
        """Return the sending that `key` was begun with before; None for the first, which is then begun."""
        with self._lock:
            if (before := self._sent.get(key)) is not None:
                return before
            self._sent[key] = Sent()
            while len(self._sent) > RESULTS_KEPT:
                self._sent.popitem(last=False)
            return None

    def end(self, key: str, led_to: str) -> None:
        """Note where a form led; one that led nowhere may be sent again."""
        with self._lock:
            sent = self._sent.get(key) if led_to else self._sent.pop(key, None)
        if sent is not None:
            sent.led_to = led_to
            sent.done.set()

    def note_kept(self, kept: Kept) -> None:
        """Note that a form did what it asked for."""
        with self._lock:
            self._kept.append(kept)

    def kept(self, owner: str) -> tuple[str, ...]:
        """Return the marks of a phone's forms that lately did what they asked for: their drafts are done with."""
        with self._lock:
            return tuple(kept.mark for kept in self._kept if kept.owner == owner)


def show(template: str, status: int = 200, *, home: str = "", **context: Any) -> ResponseReturnValue:
    """Return a page; one that answers a browser's post is kept, and led to by an address of its own.

    `home` is where the empty form stands; where nothing is said, at the address that was posted to.
    """
    phone = device()
    if request.method != "POST" or phone is None or not _by_a_person():
        return make_response(render_template(template, **context), status)
    home = home or request.path.removesuffix("/keep")
    page = PageKept(phone.mark, template, status, home, bool(g.get("pictures")), context)
    return redirect(f"/typed/{form_answers().keep(page)}?home={quote(home)}", 303)


def show_again(page: PageKept) -> ResponseReturnValue:
    """Return a kept page, painted as things stand now."""
    g.pictures = page.pictures
    g.home = page.home
    return make_response(render_template(page.template, **page.context), page.status)


def once() -> Markup:
    """Return the hidden field that makes a form count once, however often it is sent."""
    return Markup('<input type="hidden" name="{}" value="{}">').format(MARK_FIELD, secrets.token_urlsafe(9))


def answer_once(app: Flask) -> None:
    """Lead the second sending of a form where the first one led. Comes after the rules of `guard.watch`."""
    app.extensions[_PLACE] = FormAnswers()

    @app.before_request
    def begin() -> ResponseReturnValue | None:
        """Return where the same form led before, or None where it is sent for the first time."""
        phone = device()
        if request.method != "POST" or phone is None:
            return None
        mark = request.form.get(MARK_FIELD, "")[:_LONGEST_MARK]
        if not mark:
            return None
        key = _key(phone.mark)
        before = form_answers().first(key)
        if before is not None and before.done.wait(WAIT_S) and before.led_to:
            return redirect(before.led_to, 303)
        if before is None:
            g.once_key, g.once_kept = key, Kept(phone.mark, mark)
        return None

    @app.after_request
    def lead(answer: Response) -> Response:
        """Note where the form led: anywhere but to its own page, it did what it asked for."""
        key = g.pop("once_key", None)
        if key is None:
            return answer
        led_to = answer.headers.get("Location", "") if answer.status_code == 303 else ""
        form_answers().end(key, led_to)
        if led_to and not led_to.startswith("/typed/"):
            form_answers().note_kept(g.once_kept)
        return answer

    @app.teardown_request
    def over(_error: BaseException | None) -> None:
        """Let a form be sent again whose answer never came."""
        if (key := g.pop("once_key", None)) is not None:
            form_answers().end(key, "")


def drafts_done() -> str:
    """Return the marks of the forms whose drafts the page's script drops."""
    phone = device()
    return " ".join(form_answers().kept(phone.mark)) if phone is not None else ""


def form_answers() -> FormAnswers:
    """Return what is kept of the app that answers the present request."""
    return cast("FormAnswers", current_app.extensions[_PLACE])


def _by_a_person() -> bool:
    """Tell whether a browser goes to the answer as to a page: such a one names XHTML among what it takes."""
    return "application/xhtml+xml" in request.headers.get("Accept", "")


def _key(owner: str) -> str:
    """Return what tells a sending from others: whose, where to, which form, and every letter of it."""
    told = [request.path, *(f"{name}\n{value}" for name, value in request.form.items(multi=True) if _counts(name))]
    files = [f"{name}\n{file.filename}" for name, file in request.files.items(multi=True)]
    return hashlib.sha256("\0".join([owner, *told, *files]).encode("utf-8", "surrogatepass")).hexdigest()


def _counts(name: str) -> bool:
    return name not in _OF_THE_MOMENT
