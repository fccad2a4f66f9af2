"""A paired phone: the signed cookie that names it, and the token its forms must carry."""

from __future__ import annotations

import hashlib
import hmac
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, cast

from flask import Response, g, request
from itsdangerous import BadData, URLSafeSerializer

from webui.frame.context import room

if TYPE_CHECKING:
    from controller.daemon.desk import Desk

YEAR_S: Final = 365 * 24 * 3600
TOKEN_FIELD: Final = "token"  # noqa: S105  # the field's name, not a secret
TOKEN_HEADER: Final = "X-Treadle-Token"  # noqa: S105  # the header's name, not a secret
_TRIED: Final = 8
"""So many cookies of our own name are tried: another service of the host name may have set one, too."""
_LONGEST: Final = 1000
"""Characters of a cookie of ours; none that was signed here is longer."""


@dataclass(frozen=True, slots=True)
class Device:
    """One paired phone: its random mark, and the name it was paired under."""

    mark: str
    name: str


def cookie_name(key: bytes) -> str:
    """Return the cookie's name: another daemon on the same machine signs with another key under another name."""
    return "treadle-" + hashlib.sha256(b"cookie name" + key).hexdigest()[:8]


def welcome(answer: Response, phone: Device) -> None:
    """Put a new device's cookie on `answer`."""
    key = room().desk.key()
    answer.set_cookie(
        cookie_name(key),
        _signer(key).dumps({"mark": phone.mark, "name": phone.name}),
        max_age=YEAR_S,
        httponly=True,
        samesite="Strict",
        secure=room().secure,
    )


def device() -> Device | None:
    """Return the phone this request comes from; None where its cookie is missing or was not signed here."""
    if "device" not in g:
        g.device = still_in(read_device(request.headers.get("Cookie", ""), room().desk.key()), room().desk)
    return cast("Device | None", g.device)


def still_in(phone: Device | None, desk: Desk) -> Device | None:
    """Return a phone that a cookie names, and None where it was put out since."""
    return None if phone is None or desk.phones().is_out(phone.mark) else phone


def token(of: Device) -> str:
    """Return the token that forms of this phone carry: no other phone's page can know it."""
    return hmac.new(room().desk.key(), b"form token " + of.mark.encode(), hashlib.sha256).hexdigest()


def token_fits(of: Device) -> bool:
    """Tell whether the request carries its phone's token, in a field or in a header."""
    given = request.headers.get(TOKEN_HEADER) or request.form.get(TOKEN_FIELD, "")
    return hmac.compare_digest(given.encode(), token(of).encode())


def read_device(cookies: str, key: bytes) -> Device | None:
    """Return the phone that a Cookie header names; None where it names none, or was not signed with `key`.

    Nothing but our own cookie is looked at: others come from whatever else serves at this host name, and may be
    anything.
    """
    for number, found in enumerate(_ours(cookie_name(key)).finditer(cookies)):
        if number == _TRIED:
            break
        if len(found[1]) <= _LONGEST and (known := _known(found[1], key)) is not None:
            return known
    return None


@lru_cache(maxsize=4)
def _ours(name: str) -> re.Pattern[str]:
    return re.compile(rf'(?:^|[;,\s]){re.escape(name)}="?([A-Za-z0-9._-]+)')


@lru_cache(maxsize=64)
def _known(value: str, key: bytes) -> Device | None:
    """Return whom one cookie names; kept for a few, since every word to a phone asks for it."""
    try:
        said = _signer(key).loads(value)
    except (BadData, ValueError, RecursionError):
        return None
    match said:
        case {"mark": str(mark), "name": str(name)} if mark:
            return Device(mark, name)
    return None


def _signer(key: bytes) -> URLSafeSerializer:
    return URLSafeSerializer(key, salt="treadle paired device", signer_kwargs={"digest_method": hashlib.sha256})
