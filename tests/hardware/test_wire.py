"""The messages on the pipe."""

from __future__ import annotations

import json
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardware.errors import WireError
from hardware.sounds import FAMILY, Cue, notes
from hardware.wire import Beat, FromKeeper, Order, Sound, ToKeeper
from hardware.wire_json import LONGEST_LINE, LONGEST_NAME, decode, encode

LAW = settings(deadline=None)  # a busy machine breaks no law
ORDER = Order("a", "step", "s", 1, 2, "lamp", 7, 123, 4000, (Beat(-1000, "tick"), Beat(0, "hands")))
MESSAGES = (*get_args(ToKeeper), *get_args(FromKeeper))

name = st.text(st.characters(exclude_categories=["Cs"]), max_size=LONGEST_NAME // 4)
cue = st.sampled_from([str(cue) for cue in Cue])
beat = st.builds(Beat, st.integers(-10_000, 900_000), cue)


def message(cls: type) -> st.SearchStrategy[object]:
    """Build any message of this kind; names and cues are such as the wire lets pass."""
    given_fields: dict[str, st.SearchStrategy[object]] = {
        field: name for field in ("id", "kind", "sheet", "lamp", "lit") if field in cls.__annotations__
    }
    if "cue" in cls.__annotations__:
        given_fields["cue"] = cue
    if "cues" in cls.__annotations__:
        given_fields["cues"] = st.lists(beat, max_size=40).map(tuple)
    return st.builds(cls, **given_fields)


@LAW
@given(st.one_of([message(cls) for cls in MESSAGES]))
def test_what_is_said_is_what_is_heard(said: ToKeeper | FromKeeper) -> None:
    """Every message comes back equal from its line, and its line is one line of plain ASCII."""
    line = encode(said)
    assert line.endswith(b"\n")
    assert line.count(b"\n") == 1
    assert line.isascii()
    assert decode(line) == said


@LAW
@given(st.binary(max_size=200))
def test_noise_is_no_message(noise: bytes) -> None:
    """Bytes that are no message are refused as such, and nothing else happens."""
    with pytest.raises(WireError):
        decode(noise)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=10),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@LAW
@given(st.sampled_from(sorted(json.loads(encode(ORDER)))), json_values)
def test_a_field_of_another_type_is_refused(field: str, value: object) -> None:
    """An order with any one field replaced is refused, or is an order of well-typed fields."""
    body = json.loads(encode(ORDER)) | {field: value}
    try:
        heard = decode(json.dumps(body).encode())
    except WireError:
        return
    assert isinstance(heard, Order)
    assert decode(encode(heard)) == heard
    assert type(getattr(heard, field)) is type(getattr(ORDER, field))


@pytest.mark.parametrize("field", sorted(json.loads(encode(ORDER))))
def test_a_missing_field_is_refused(field: str) -> None:
    """No field of an order may be left out, but for the cues, and the longest where no dose is asked for."""
    body = json.loads(encode(ORDER))
    del body[field]
    line = json.dumps(body).encode()
    if field == "cues":
        assert decode(line) == Order("a", "step", "s", 1, 2, "lamp", 7, 123, 4000)
    elif field == "longest_ms":
        assert decode(line) == ORDER
    else:
        with pytest.raises(WireError):
            decode(line)


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"[]",
        b"null",
        b'{"m":"order"}',
        b'{"m":"dance"}',
        b'{"m":["cancel"],"id":"a"}',
        b'{"m":"cancel","id":"a","more":1}',
        b'{"m":"cancel","id":true}',
        b'{"m":"cancel","id":"\\ud800"}',
        b'{"m":"sound","cue":"fanfare","count":1}',
        b'{"m":"sound","cue":"tick","count":1.0}',
        b'{"m":"sound","cue":"tick","count":NaN}',
        b'{"m":"sound","cue":"tick","count":' + b"9" * 5000 + b"}",
        b"[" * 50_000,
        b'{"m":"cancel","id":"' + b"a" * (LONGEST_NAME + 1) + b'"}',
        b'{"m":"cancel","id":"' + "é".encode() * (LONGEST_NAME // 2 + 1) + b'"}',
        encode(ORDER).replace(b'[0,"hands"]', b'[0,"fanfare"]'),
        encode(ORDER).replace(b'[0,"hands"]', b'["0","hands"]'),
        encode(ORDER).replace(b'[0,"hands"]', b'[0,"hands",1]'),
    ],
)
def test_what_does_not_fit_is_refused(line: bytes) -> None:
    """Unknown messages, fields, cues, types and lengths are refused with a sentence."""
    with pytest.raises(WireError) as refused:
        decode(line)
    assert str(refused.value)


def test_a_line_longer_than_the_pipe_takes_is_not_made() -> None:
    """A message that would not go through the pipe in one piece is refused where it is made."""
    cues = tuple(Beat(n, "tick") for n in range(LONGEST_LINE // 8))
    with pytest.raises(WireError, match="longer"):
        encode(Order("a", "step", "s", 1, 2, "lamp", 7, 123, 4000, cues))


@LAW
@given(st.sampled_from(list(Cue)), st.integers(-5, 1000))
def test_every_cue_sounds_within_its_family_low_and_short(which: Cue, count: int) -> None:
    """Every cue has a family and notes of 300 to 900 Hz, the trays' alone higher; none lasts longer than a minute."""
    assert FAMILY[which]
    played = notes(which, count)
    highest = 2000 if FAMILY[which] == "trays" else 900
    assert all(note.hertz == 0 or 300 <= note.hertz <= highest for note in played)
    assert sum(note.ms for note in played) <= 60_000
    assert bool(played) or (which is Cue.NUMBER and count < 1)
    assert isinstance(decode(encode(Sound(which, count))), Sound)
