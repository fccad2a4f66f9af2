"""A paired phone: the signed cookie that names it, and the token its forms must carry."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass
from typing import Final, cast

from flask import Response, g, request
from itsdangerous import BadSignature, URLSafeSerializer
from werkzeug.http import parse_cookie

from webui.frame.context import room

YEAR_S: Final = 365 * 24 * 3600
TOKEN_FIELD: Final = "token"  # noqa: S105  # the field's name, not a secret
TOKEN_HEADER: Final = "X-Treadle-Token"  # noqa: S105  # the header's name, not a secret


@dataclass(frozen=True, slots=True)
class Device:
    """One paired phone: its random mark, and the name it was paired under."""

    mark: str
    name: str


def cookie_name(key: bytes) -> str:
    """Return the cookie's name: another daemon on the same machine signs with another key under another name."""
    return "treadle-" + hashlib.sha256(b"cookie name" + key).hexdigest()[:8]


def welcome(answer: Response, name: str) -> None:
    """Put a new device's cookie on `answer`."""
    key = room().desk.key()
    answer.set_cookie(
        cookie_name(key),
        _signer(key).dumps({"mark": secrets.token_hex(16), "name": name}),
        max_age=YEAR_S,
        httponly=True,
        samesite="Strict",
        secure=room().secure,
    )


def device() -> Device | None:
    """Return the phone this request comes from; None where its cookie is missing or was not signed here."""
    if "device" not in g:
        g.device = read_device(request.headers.get("Cookie", ""), room().desk.key())
    return cast("Device | None", g.device)


def token(of: Device) -> str:
    """Return the token that forms of this phone carry: no other phone's page can know it."""
    return hmac.new(room().desk.key(), b"form token " + of.mark.encode(), hashlib.sha256).hexdigest()


def token_fits(of: Device) -> bool:
    """Tell whether the request carries its phone's token, in a field or in a header."""
    given = request.headers.get(TOKEN_HEADER) or request.form.get(TOKEN_FIELD, "")
    return hmac.compare_digest(given.encode(), token(of).encode())


def read_device(cookies: str, key: bytes) -> Device | None:
    """Return the phone that a Cookie header names; None where it names none, or was not signed with `key`."""
    try:
        said = _signer(key).loads(parse_cookie(cookies).get(cookie_name(key), ""))
    except BadSignature:
        return None
    match said:
        case {"mark": str(mark), "name": str(name)} if mark:
            return Device(mark, name)
    return None


def _signer(key: bytes) -> URLSafeSerializer:
    return URLSafeSerializer(key, salt="treadle paired device", signer_kwargs={"digest_method": hashlib.sha256})
