"""Hostile requests to a page's app: its own routes and forms with the wrong things in them, and what nobody sends."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from urllib.parse import quote, urlencode

from flask import Flask

from tools.asked_pages import FORM, HOST, ORIGIN, Asked, Asker, Stores
from tools.hostile import MARK, hurt_bytes, word
from webui.frame.device import TOKEN_FIELD, cookie_name

METHODS = ("GET", "POST", "HEAD", "OPTIONS", "PUT", "DELETE", "PATCH", "TRACE", "PROPFIND", "get", "G\u00cbT", "")
ELSEWHERE = (
    "//elsewhere.example/",
    "/\\elsewhere.example",
    "http://elsewhere.example",
    "/\t/elsewhere.example",
    "///x.y",
)
Phone = tuple[str, str]


class Requests(Asker):
    """Asks an app by a dice."""

    def __init__(self, app: Flask, key: bytes, stores: Stores, dice: random.Random) -> None:
        super().__init__(app, stores, dice)
        self.cookie = cookie_name(key)
        self.leave_out: Callable[[str, list[tuple[str, str]]], bool] = lambda _path, _fields: False
        """Tells what is not asked for just now, such as what would be a foot."""
        self._posted: set[str] = set()
        self._files = [b"", b"step,density\n1,0.05\n", b"=1+1,@x\n", b"\xff\xfe\x00", b"\x00" * 300, b"a" * 5000]

    def bring(self, *files: bytes) -> None:
        """Take in files to be sent where a form has one, whole or hurt."""
        self._files += files

    def one(self) -> tuple[Asked, int]:
        """Send one request, and return it and the status of its answer."""
        dice = self.dice
        phone = None if dice.random() < 0.1 else dice.choice(self.phones)
        roll = dice.random()
        if roll < 0.45:
            asked = self._looking(phone)
        elif roll < 0.95:
            asked = self._posting(phone)
        else:
            path = self._path(dice.choice(self.rules)[0])
            asked = Asked(
                dice.choice(METHODS), path + self._query(), self._headers(phone, posting=True), self._junk()[1]
            )
        return asked, self.send(asked).status

    def _looking(self, phone: Phone | None) -> Asked:
        dice = self.dice
        known = list(self.addresses)
        if known and dice.random() < 0.4:
            path = dice.choice(known)
            if dice.random() < 0.5:
                path = path.split("?")[0] + self._query(path)
        else:
            shown = [rule for rule, methods in self.rules if "GET" in methods or dice.random() < 0.1]
            path = self._path(dice.choice(shown)) + self._query()
        body = b"x" * dice.choice((1, 5000)) if dice.random() < 0.02 else b""
        return Asked("GET" if dice.random() < 0.95 else "HEAD", path, self._headers(phone, posting=False), body)

    def _posting(self, phone: Phone | None) -> Asked:
        """Make a form right, then make something of it wrong; at times all of it."""
        dice = self.dice
        if self.forms and dice.random() < 0.75:
            form = dice.choice(list(dice.choice(list(self.forms.values())).values()))
            path, fields, multipart = form.action, list(form.fields), form.multipart
        else:
            posts = [rule for rule, methods in self.rules if "POST" in methods]
            # one that was not asked yet goes before: in a few thousand requests chance alone would miss some
            rule = dice.choice([each for each in posts if each not in self._posted] or posts)
            self._posted.add(rule)
            path, multipart = self._path(rule), dice.random() < 0.3
            fields = [(dice.choice(list(self.names)), word(dice), "text") for _ in range(dice.randrange(8))]
        fields = self._signed(self._wrong(fields), phone)
        if self.leave_out(path.split("?")[0], [(name, value) for name, value, _ in fields]):
            return self._looking(phone)
        if dice.random() < 0.06:
            kind, body = self._junk()
        elif multipart or any(kind == "file" for *_, kind in fields):
            kind, body = self._parts(fields)
        else:
            pairs = [(name, value) for name, value, _ in fields]
            kind, body = FORM[1], urlencode(pairs, errors="surrogatepass").encode()
            if dice.random() < 0.05:
                body = hurt_bytes(body, dice)
        length = dice.choice(("-1", "0", "x", "9" * 30, "7", "1e3", "+5", "")) if dice.random() < 0.03 else None
        if dice.random() < 0.03:
            kind = dice.choice(("", "text/plain", "multipart/form-data", "a/b;" + "c" * 9000, 'x; charset="\x00', MARK))
        headers = (*self._headers(phone, posting=True), ("Content-Type", kind))
        return Asked("POST", path, headers, body, length)

    def _wrong(self, fields: list[tuple[str, str, str]]) -> list[tuple[str, str, str]]:
        """Type over, leave out, double and rename some."""
        dice, made = self.dice, []
        few = dice.choice((0.0, 0.15, 0.15, 0.4, 1.0))
        for name, value, kind in fields:
            roll = dice.random()
            if name in (TOKEN_FIELD, "number", "run") or roll >= few:
                made.append((name, value, kind))
                continue
            how = dice.random()
            if how < 0.75:
                made.append((name, word(dice), "text" if kind == "file" and dice.random() < 0.3 else kind))
            elif how < 0.85:
                made += [(name, value, kind), (name, word(dice), kind)]
            elif how < 0.9:
                made.append(
                    (
                        dice.choice(
                            (
                                name + "x",
                                re.sub(r"\d+", lambda _: str(dice.choice((0, 3, 99, -1))), name),
                                word(dice)[:60],
                            )
                        ),
                        value,
                        kind,
                    )
                )
        if dice.random() < 0.1:
            made += [(dice.choice(list(self.names)), word(dice), "text") for _ in range(dice.choice((1, 3, 60)))]
        if dice.random() < 0.15:
            made.append(("back", dice.choice(ELSEWHERE), "text"))
        if dice.random() < 0.1:
            dice.shuffle(made)
        return made[:600]

    def _signed(self, fields: list[tuple[str, str, str]], phone: Phone | None) -> list[tuple[str, str, str]]:
        """Put token, snapshot and run in, mostly the right ones."""
        dice = self.dice
        made = [each for each in fields if each[0] not in (TOKEN_FIELD, "number", "run")]
        right = {TOKEN_FIELD: phone[1] if phone else "0" * 64, "number": self.snapshot, "run": self.run}
        for name, value in right.items():
            roll = dice.random()
            if roll < 0.94:
                made.append((name, value, "hidden"))
            elif roll < 0.98:
                made.append((name, word(dice), "hidden"))
        return made

    def _parts(self, fields: list[tuple[str, str, str]]) -> tuple[str, bytes]:
        """Write a form in parts, files whole or hurt among them."""
        dice = self.dice
        line, body = f"b{dice.randrange(10**9)}", bytearray()
        for name, value, kind in fields:
            shown = name.replace('"', "%22").replace("\r", "%0D").replace("\n", "%0A").encode("utf-8", "surrogatepass")
            body += f"--{line}\r\n".encode() + b'Content-Disposition: form-data; name="' + shown + b'"'
            if kind == "file":
                called = dice.choice(
                    ("a.png", "scan.tif", "x.csv", "", MARK, "../../x", "a\x00b", "\u202egnp", "n" * 3000)
                )
                body += (
                    f'; filename="{called}"\r\nContent-Type: {dice.choice(("image/png", "text/csv", MARK))}'.encode()
                )
                content = dice.choice(self._files)
                content = hurt_bytes(content, dice) if content and dice.random() < 0.6 else content
            else:
                content = value.encode("utf-8", "surrogatepass")
            body += b"\r\n\r\n" + content + b"\r\n"
        whole = bytes(body) + (f"--{line}--\r\n".encode() if dice.random() < 0.97 else b"")
        if dice.random() < 0.05:
            whole = hurt_bytes(whole, dice)
        return f"multipart/form-data; boundary={line}", whole

    def _junk(self) -> tuple[str, bytes]:
        """Return a body that is no form."""
        dice = self.dice
        bodies = (
            b"",
            b"{}",
            b"[]",
            b'{"number": 1, "token": null}',
            b"\xff" * 99,
            b"&&&=&==",
            b"%" * 999,
            b"a=" + b"%ed%a0%80",
        )
        odd = (b"[" * 20_000, b'{"a":' * 9000, b"9" * 5000, b"x" * 310_000, b"a=b&" * 1500)
        kinds = (
            "application/json",
            "text/plain",
            "application/octet-stream",
            "multipart/form-data; boundary=b",
            FORM[1],
        )
        return dice.choice(kinds), dice.choice((*bodies, *bodies, *odd))

    def _headers(self, phone: Phone | None, *, posting: bool) -> tuple[tuple[str, str], ...]:
        dice = self.dice
        good = [("Host", HOST)]
        if phone:
            good.append(("Cookie", phone[0]))
        if posting:
            good.append(("Origin", ORIGIN))
        if dice.random() < 0.3:
            good.append(
                ("Accept", dice.choice(("application/json", "text/html", "*/*", "text/html;q=nan", ";,q=9,", MARK)))
            )
        if dice.random() > 0.12:
            return tuple(good)
        odd = "".join(each for each in word(dice) if each not in "\r\n" and not "\ud800" <= each <= "\udfff")[:3000]
        own = phone[0] if phone else f"{self.cookie}=x.y"
        hostile = (
            *(
                ("Origin", each)
                for each in ("null", "http://[", "//", "http://elsewhere.example", "http://localhost:1", odd)
            ),
            *(("Host", each) for each in ("elsewhere.example", "[::1", "localhost:99999", "10.0.0.1", "a b", "", odd)),
            *(
                ("Cookie", each)
                for each in (f"a=caf\u00e9; {own}", own + '; a="\\', own[:-3], f"{self.cookie}=;{own}", odd)
            ),
            *(
                ("X-Treadle-Token", odd),
                ("Referer", odd),
                ("User-Agent", odd),
                ("If-None-Match", odd),
                ("Range", "bytes=9-1"),
            ),
            *(("X-Forwarded-For", odd), ("X-Forwarded-Host", "elsewhere.example"), ("Sec-Fetch-Site", "cross-site")),
            *(
                ("Accept-Encoding", odd),
                ("If-Modified-Since", odd),
                ("Transfer-Encoding", "chunked"),
                ("Accept-Language", odd),
            ),
            *(
                ("Authorization", f"Basic {odd}"),
                ("Content-Encoding", "gzip"),
                ("Expect", "100-continue"),
                ("Cookie", ""),
            ),
        )
        bad = dict(dice.choice(hostile) for _ in range(dice.randint(1, 3)))
        return tuple({**dict(good), **bad}.items())

    def _path(self, rule: str) -> str:
        """Fill a rule: with what is there, with what is not, and with what never could be."""
        dice = self.dice

        def fill(found: re.Match[str]) -> str:
            pool = list(self.scans if "scan" in rule else self.ids)
            roll = dice.random()
            if found[1] and roll < 0.7:
                return dice.choice([each.strip() for each in found[1].split(",")])
            if pool and found[2] in ("source", "sheet", "carried") and roll < 0.7:
                return dice.choice(pool)
            near = [address.split("?")[0].rsplit("/", 1)[-1] for address in self.addresses]
            if near and roll < 0.85:
                return dice.choice(near) or "x"
            return quote(word(dice)[:120].encode("utf-8", "surrogatepass"), safe="") or "x"

        return re.sub(r"<(?:\w+(?:\(([^)]*)\))?:)?(\w+)>", fill, rule)

    def _query(self, address: str = "") -> str:
        dice = self.dice
        if dice.random() < 0.3:
            return ""
        own = re.findall(r"[?&]([\w-]+)=", address)
        names = own or list(self.names)
        pairs = [(dice.choice(names), word(dice)[:2000]) for _ in range(dice.randint(1, 6))]
        return "?" + urlencode(pairs, errors="surrogatepass")
