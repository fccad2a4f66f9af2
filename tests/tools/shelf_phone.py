"""A paired phone in a test's hand: it looks at pages, presses their buttons, and reads what they say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html.parser import HTMLParser
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from controller.daemon.desk import Desk
from tools.stand_in_desk import CODE, StandInDesk
from webui.app import create_app

ORIGIN = "http://localhost"
Pairs = list[tuple[str, str]]


def shelf_app(desk: Desk) -> Flask:
    """The app before a desk, at this machine's own names."""
    return create_app(desk, hosts=["localhost", "127.0.0.1"])


class Page(HTMLParser):
    """What stands on a page: its forms' fields, what is said beside each, its figures and the rest of its words."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text
        self.fields: Pairs = []
        self.beside: dict[str, str] = {}
        self.ids: list[str] = []
        self.links: list[str] = []
        self.buttons: list[dict[str, str]] = []
        self.words = ""
        self.actions: list[str] = []
        self._select: tuple[str, list[tuple[str, bool]]] | None = None
        self._area: str | None = None
        self.much: list[str] = []
        self.drawn: list[str] = []
        self._told: str | None = None
        self._inside = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        self._inside = tag
        if "id" in has:
            self.ids.append(has["id"])
        if "data-beside" in has:
            self._told = has["data-beside"]
            self.beside.setdefault(self._told, "")
        if has.get("class") == "much":
            self._inside = "much"
        match tag:
            case "a":
                self.links.append(has.get("href", ""))
            case "form":
                self.actions.append(has.get("action", ""))
            case "button":
                self.buttons.append(has)
            case "input" if has.get("type") not in ("radio", "checkbox") or "checked" in has:
                self.fields.append((has.get("name", ""), has.get("value", "")))
            case "select":
                self._select = (has.get("name", ""), [])
            case "option" if self._select is not None:
                self._select[1].append((has.get("value", ""), "selected" in has))
            case "textarea":
                self._area = has.get("name", "")
                self.fields.append((self._area, ""))

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""
        if tag == "select" and self._select is not None:
            name, options = self._select
            chosen = [value for value, picked in options if picked] or [value for value, _ in options[:1]]
            self.fields.append((name, chosen[-1]))
            self._select = None
        if tag == "textarea":
            self._area = None
        if tag == "p":
            self._told = None

    def handle_data(self, data: str) -> None:
        if self._inside in ("style", "script"):
            return
        self.words += data
        if self._inside == "much":
            self.much.append(data)
            self._inside = ""
        if self._inside == "text":
            self.drawn.append(data)
        if self._told is not None:
            self.beside[self._told] += data
        if self._area is not None:
            name, before = self.fields.pop()
            self.fields.append((name, (before + data).removeprefix("\n")))

    def typed(self, **changes: str) -> Pairs:
        """Return the page's fields as a browser would send them, with some typed over (dashes as underscores)."""
        wanted = {name.replace("_", "-"): value for name, value in changes.items()}
        kept = [(name, wanted.pop(name) if name in wanted else value) for name, value in self.fields if name]
        assert not wanted, f"the page has no field {sorted(wanted)}"
        return kept

    def told(self) -> dict[str, str]:
        """Return the sentences that stand beside fields."""
        return {name: words.strip() for name, words in self.beside.items() if words.strip()}


class Phone:
    """A paired browser without scripts."""

    def __init__(self, desk: StandInDesk) -> None:
        self.desk = desk
        self.client: FlaskClient = shelf_app(desk).test_client()
        answer = self.client.post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
        assert answer.status_code in (200, 302, 303), answer.text

    def look(self, address: str, status: int = 200) -> Page:
        answer = self.client.get(address)
        assert answer.status_code == status, (answer.status_code, Page(answer.text).words)
        return Page(answer.text)

    def send(self, address: str, fields: Iterable[tuple[str, str]], **more: str) -> TestResponse:
        pairs = [*fields, *more.items()]
        body: dict[str, Any] = {}
        for name, value in pairs:
            body.setdefault(name, []).append(value)
        return self.client.post(address, data=body, headers={"Origin": ORIGIN})

    def press(self, address: str, page: Page, do: str, status: int = 200, **typed: str) -> Page:
        """Press a button of a form after typing over some fields, and return the page that comes."""
        answer = self.send(address, page.typed(**typed), do=do)
        assert answer.status_code == status, (answer.status_code, Page(answer.text).told())
        return Page(answer.text)


def unpaired(pairs: Iterable[tuple[str, str]], *leave: str) -> Iterator[tuple[str, str]]:
    """Yield the fields but for some, such as the token, which differs from page to page."""
    return ((name, value) for name, value in pairs if name not in leave)
