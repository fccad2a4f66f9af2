"""A message of the wire as one line of JSON, and back; what does not fit to the letter is refused."""

from __future__ import annotations

import json
from dataclasses import MISSING, fields
from types import UnionType
from typing import Final, get_args, get_origin, get_type_hints

from hardware.errors import WireError
from hardware.sounds import Cue
from hardware.wire import Beat, FromKeeper, ToKeeper

LONGEST_LINE: Final = 60_000
"""Characters; the pipe's own size bounds a message that must go in one piece."""
LONGEST_NAME: Final = 64
"""Bytes of an id, a sheet, a lamp or a kind: the slate has that much room for each."""

_NAMES: Final[dict[str, type]] = {cls.__name__.lower(): cls for cls in (*get_args(ToKeeper), *get_args(FromKeeper))}
_CUES: Final = frozenset(str(cue) for cue in Cue)
_NAMED: Final = frozenset({"id", "sheet", "lamp", "lit", "kind"})
_HINTS: Final[dict[type, dict[str, object]]] = {cls: get_type_hints(cls) for cls in (*_NAMES.values(), Beat)}


def encode(message: ToKeeper | FromKeeper) -> bytes:
    """Return the message as one line, newline included.

    Raises:
        WireError: the line would be longer than `LONGEST_LINE`.
    """
    body: dict[str, object] = {"m": type(message).__name__.lower()}
    for field in fields(message):
        value = getattr(message, field.name)
        if field.name == "cues":
            value = [[beat.at_ms, beat.cue] for beat in value]
        body[field.name] = value
    line = json.dumps(body, separators=(",", ":"), ensure_ascii=True).encode()
    if len(line) >= LONGEST_LINE:
        raise WireError(f"a {body['m']} message of {len(line)} characters is longer than {LONGEST_LINE}")
    return line + b"\n"


def decode(line: bytes) -> ToKeeper | FromKeeper:
    """Return the message of one line.

    Raises:
        WireError: the line is not JSON, or names no message, or a field is missing, extra or of the wrong type.
    """
    try:
        body = json.loads(line)
    except (ValueError, RecursionError) as problem:
        raise WireError(f"not a message: {problem}") from None
    if not isinstance(body, dict):
        raise WireError("not a message: no object")
    cls = _NAMES.get(str(body.pop("m", "")))
    if cls is None:
        raise WireError("not a message: unknown name")
    hints = _HINTS[cls]
    required = {f.name for f in fields(cls) if f.default is MISSING}
    if not required <= set(body) <= set(hints):
        raise WireError(f"{cls.__name__.lower()}: wrong fields {sorted(body)}")
    values = {name: _value(value, hints[name], name) for name, value in body.items()}
    message: ToKeeper | FromKeeper = cls(**values)
    return message


def _value(value: object, hint: object, name: str) -> object:
    if hint in (int, str, bool):
        assert isinstance(hint, type)
        if type(value) is not hint:
            raise WireError(f"{name}: {value!r} is no {hint.__name__}")
        if name == "cue" and value not in _CUES:
            raise WireError(f"cue: {value!r} is no cue")
        if name in _NAMED and len(str(value).encode(errors="surrogatepass")) > LONGEST_NAME:
            raise WireError(f"{name}: {value!r} is longer than {LONGEST_NAME} bytes")
        if name in _NAMED and any("\ud800" <= letter <= "\udfff" for letter in str(value)):
            raise WireError(f"{name}: {value!r} is no text")
        return value
    origin = get_origin(hint)
    if origin is tuple and isinstance(value, list):
        inner = get_args(hint)[0]
        if inner is Beat:
            return tuple(_beat(item) for item in value)
        return tuple(_value(item, inner, name) for item in value)
    assert not isinstance(origin, UnionType)
    raise WireError(f"{name}: {value!r} does not fit")


def _beat(item: object) -> Beat:
    if not (isinstance(item, list) and len(item) == 2 and type(item[0]) is int and isinstance(item[1], str)):
        raise WireError(f"cues: {item!r} is no pair of milliseconds and cue")
    if item[1] not in _CUES:
        raise WireError(f"cues: {item[1]!r} is no cue")
    return Beat(item[0], item[1])
