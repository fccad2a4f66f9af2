"""The form of a set of negatives: what it keeps, what it refuses and how, and how frames are numbered and lie."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.backup.registered import THINGS
from controller.errors import NotThere, Unreadable
from controller.negatives.layouts import (
    LAYOUTS,
    first_of,
    layout_of,
    listed,
    next_name,
    numbered,
    places,
    plain_format,
    shown_format,
)
from controller.negatives.sets import (
    LOOKS,
    MARKS,
    NEGATIVES,
    Frame,
    NegativeSet,
    read_negatives,
    reference,
    split_reference,
    write_negatives,
)

HASH = "0123456789abcdef" * 4
TREE: dict[str, Any] = {
    "format": NEGATIVES,
    "set": "film 12",
    "film": "slow film",
    "date": "2026-11-30",
    "frame_format": "6x6",
    "rows": 4,
    "columns": 3,
    "development": "fine grain 1+1, 9 min, 20 °C",
    "notes": "The second half was under trees.",
    "proof": {"photograph": HASH, "corners": [[0.1, 0.1], [0.9, 0.12], [0.88, 0.9], [0.08, 0.92]]},
    "frames": [
        {"frame": "1"},
        {"frame": "2", "title": "quay at dawn", "mark": "print", "look": "1/3", "notes": "Gulls at the left."},
        {"frame": "3A", "mark": "no"},
    ],
}
LISTED = {key: value for key, value in TREE.items() if key not in ("rows", "columns")}


def changed(change: Callable[[dict[str, Any]], object]) -> str:
    tree = copy.deepcopy(TREE)
    change(tree)
    return json.dumps(tree)


def put(*path: str | int, value: Any) -> str:
    def change(tree: dict[str, Any]) -> None:
        inner: Any = tree
        for key in path[:-1]:
            inner = inner[key]
        inner[path[-1]] = value

    return changed(change)


def without(*path: str | int) -> str:
    def change(tree: dict[str, Any]) -> None:
        inner: Any = tree
        for key in path[:-1]:
            inner = inner[key]
        del inner[path[-1]]

    return changed(change)


CORNERS = TREE["proof"]["corners"]
MALFORMED = [
    *("", "x", "[]", "null", "{}", '{"format": 3}', "[" * 5000, '{"format": "treadle/negatives/2"}', "\ud800"),
    put("format", value="treadle/recipe/1"),
    put("format", value="6x6"),
    *(without(key) for key in ("format", "set", "date", "frames")),
    put("set", value=""),
    put("set", value=" film 12"),
    put("set", value="a\nb"),
    put("set", value="f" * 201),
    put("set", value="film \u202e12"),
    put("set", value=12),
    put("set", value=None),
    put("film", value=["slow film"]),
    put("date", value="30.11.2026"),
    put("date", value="2026-02-30"),
    put("date", value="2026-W48-1"),
    put("date", value="1700-01-01"),
    put("date", value=20261130),
    put("date", value="2026-11-30T10:00:00"),
    put("frame_format", value="a" * 21),
    put("rows", value=0),
    put("rows", value=21),
    put("rows", value=2.5),
    put("rows", value="4"),
    put("rows", value=True),
    put("rows", value=-4),
    put("columns", value=float("inf")),
    put("columns", value=float("nan")),
    put("rows", value=None),
    without("rows"),
    without("columns"),
    changed(lambda tree: tree.update(rows=1, columns=2)),
    put("development", value={"minutes": 9}),
    put("notes", value="n" * 4001),
    put("frames", value=[]),
    put("frames", value="1 to 12"),
    put("frames", value=[{"frame": str(number)} for number in range(81)]),
    put("frames", value=[{"frame": "1"}, {"frame": "1"}]),
    put("frames", value=[{"frame": "1a"}, {"frame": "1A"}]),
    put("frames", 0, value={}),
    put("frames", 0, value="1"),
    put("frames", 0, "frame", value=1),
    put("frames", 0, "frame", value=""),
    put("frames", 0, "frame", value="../1"),
    put("frames", 0, "frame", value="1:2"),
    put("frames", 0, "frame", value="123456789"),
    put("frames", 1, "mark", value="yes"),
    put("frames", 1, "mark", value=None),
    put("frames", 1, "look", value="1/4"),
    put("frames", 1, "look", value="2"),
    put("frames", 1, "look", value=True),
    put("frames", 1, "look", value=0.33),
    put("frames", 1, "title", value=""),
    put("frames", 1, "titel", value="quay"),
    put("frames", 1, "seconds", value=12),
    put("proof", value=HASH),
    put("proof", "photograph", value="../../etc/passwd"),
    put("proof", "photograph", value=HASH.upper()),
    put("proof", "corners", value=CORNERS[:3]),
    put("proof", "corners", value=[CORNERS[0], CORNERS[2], CORNERS[1], CORNERS[3]]),
    put("proof", "corners", value=[[0.1, 0.1], [0.5, 0.5], [0.9, 0.9], [0.1, 0.9]]),
    put("proof", "corners", value=[[-0.1, 0.1], *CORNERS[1:]]),
    put("proof", "corners", value=[[0.1, 0.1, 0.1], *CORNERS[1:]]),
    put("proof", "corners", value=[["0.1", "0.1"], *CORNERS[1:]]),
    put("photos", value=[]),
    json.dumps(TREE).replace('"rows": 4', '"rows": 4, "rows": 5'),
    json.dumps(TREE) + " " * 262_144,
]


def test_a_file_comes_back_as_it_was() -> None:
    """What is read and written reads the same again, key by key, and says what it says."""
    kept = read_negatives(json.dumps(TREE), "film.json")
    assert json.loads(write_negatives(kept)) == TREE
    assert read_negatives(write_negatives(kept), "again.json") == kept
    assert kept.date == date(2026, 11, 30)
    assert kept.frame("2").look_stops == 1 / 3 or str(kept.frame("2").look_stops) == "1/3"
    assert places(kept) == (4, 3)
    with pytest.raises(NotThere, match="no frame “9”"):
        kept.frame("9")


def test_a_list_of_frames_needs_no_rows() -> None:
    """Frames may be a list, without rows and columns, and are then shown as their format usually lies."""
    kept = read_negatives(json.dumps(LISTED), "film.json")
    assert (kept.rows, kept.columns) == (None, None)
    assert json.loads(write_negatives(kept)) == LISTED
    assert places(kept) == (1, 3)


@pytest.mark.parametrize("text", MALFORMED, ids=range(len(MALFORMED)))
def test_what_is_malformed_is_refused_in_a_sentence(text: str) -> None:
    """At least fifty files that are not as they must be: each names the file, and ends as a sentence does."""
    assert len(MALFORMED) >= 50
    with pytest.raises(Unreadable) as refused:
        read_negatives(text, "film.json")
    said = str(refused.value)
    assert "film.json" in said, said
    assert said.endswith("."), said
    assert "{" not in said, said
    assert len(said) < 400, said


@pytest.mark.parametrize("look", LOOKS)
def test_a_look_may_be_written_as_people_write_it(look: str) -> None:
    """A plus sign and a true minus are read, and kept plainly; an absent look counts as none."""
    typed = look.replace("-", "−") if look.startswith("-") else f"+{look}"
    assert Frame.model_validate({"frame": "1", "look": typed}).look == look
    assert Frame(frame="1").look_stops == 0


@given(
    st.lists(
        st.fixed_dictionaries(
            {},
            optional={
                "title": st.sampled_from(["quay", "мост", "Straße, früh"]),
                "mark": st.sampled_from(MARKS),
                "look": st.sampled_from(LOOKS),
                "notes": st.text(st.characters(codec="utf-8", categories=("L", "N", "P")), min_size=1, max_size=60),
            },
        ),
        min_size=1,
        max_size=80,
    )
)
def test_any_set_is_written_and_read_the_same(frames: list[dict[str, str]]) -> None:
    """Whatever is said of its frames, a set's file reads back as the set, through the registered room as well."""
    tree = {"format": NEGATIVES, "set": "film 1", "date": "2026-01-01"}
    tree |= {"frames": [{"frame": str(number)} | frame for number, frame in enumerate(frames)]}  # type: ignore[dict-item]
    kept = read_negatives(json.dumps(tree), "f")
    text = write_negatives(kept)
    assert json.loads(text) == tree
    assert THINGS["negatives"].read(text, "f") == "film 1"
    assert set(THINGS["negatives"].words(text).split()) >= {
        word for frame in frames for word in (frame.get("title", "") + " " + frame.get("notes", "")).split()
    }


def test_a_negative_goes_by_its_sets_id_and_its_frame() -> None:
    """A reference is the set's id, a colon and the frame; anything else is none."""
    assert reference("ab3", "12A") == "ab3:12A"
    assert split_reference("ab3:12A") == ("ab3", "12A")
    for other in ("", "ab3", ":12", "ab3:", "ab3:1 2", "ab3:1:2"):
        assert split_reference(other) == ("", "")


# ---- numbers and places


def test_frames_are_numbered_as_on_the_films_edge() -> None:
    """Numbers rise by one, letters and leading noughts stay, and a film that begins with 00 goes on with 0."""
    assert numbered("1", 3) == ("1", "2", "3")
    assert numbered("0", 3) == ("0", "1", "2")
    assert numbered("00", 4) == ("00", "0", "1", "2")
    assert numbered("12A", 2) == ("12A", "13A")
    assert numbered("08", 3) == ("08", "09", "10")
    with pytest.raises(Unreadable, match="as on the film’s edge"):
        numbered("A", 3)
    assert first_of(numbered("12A", 5)) == "12A"
    assert first_of(["1", "3"]) == "1"


def test_a_list_is_read_as_it_is_typed() -> None:
    """Single frames and spans, apart by commas, lines or spaces; what is no span is refused at its field."""
    assert listed("1 to 3, 5, 7A\n9–10") == ("1", "2", "3", "5", "7A", "9", "10")
    assert listed("1-3") == ("1", "2", "3")
    assert listed("4 6 8") == ("4", "6", "8")
    assert listed(" , ") == ()
    for wrong in ("3 to 1", "1A to 3B", "1 to 500", "0-99999", ", ".join(map(str, range(200)))):
        with pytest.raises(Unreadable) as refused:
            listed(wrong)
        assert refused.value.place == ("list",)


@pytest.mark.parametrize(
    ("frame_format", "frames"), [("24x36", 36), ("6x4.5", 16), ("6x6", 12), ("6x9", 8), ("4x5", 4), ("8x10", 1)]
)
def test_usual_formats_have_their_usual_numbers_of_frames(frame_format: str, frames: int) -> None:
    """A 35 mm film of 36; of a roll of 120 16, 12 or 8 frames; four sheets of 4×5 on 8×10 paper (common practice).

    The roll's numbers agree with its length: so many frames with a gap of about 5 mm take 640 to 760 mm.
    """
    layout = layout_of(frame_format)
    assert layout is not None
    assert layout.frames == frames
    assert layout.rows * layout.columns >= frames
    along = {"6x4.5": 41.5, "6x6": 56.0, "6x9": 84.0}.get(frame_format)
    if along is not None:
        assert 640 <= frames * (along + 5) <= 760


def test_a_format_is_kept_plainly_and_shown_as_the_trade_writes_it() -> None:
    """6×6, "6 x 6" and 6x6 are one format, shown with a true sign; another one is what it is."""
    assert {plain_format(text) for text in ("6×6", "6 x 6", "6X6", " 6x6 ")} == {"6x6"}
    assert shown_format("24x36") == "24×36"
    assert plain_format("half frame") == "half frame"
    assert shown_format("extra x") == "extra x"
    assert {shown_format(one.format) for one in LAYOUTS} >= {"24×36", "6×6", "4×5", "8×10"}


def test_the_next_film_is_called_as_the_last_one_was() -> None:
    """A number at the end rises; without one, or after a day, today is the name; one that is taken is not proposed."""
    today = date(2026, 11, 30)

    def free(_name: str) -> bool:
        return False

    assert next_name("film 12", today, free) == "film 13"
    assert next_name("F009", today, free) == "F010"
    assert next_name("", today, free) == "2026-11-30"
    assert next_name("2026-11-29", today, free) == "2026-11-30"
    assert next_name("harbour", today, free) == "2026-11-30"
    assert next_name("film 12", today, lambda name: name == "film 13") == "2026-11-30"
    assert next_name("", today, lambda name: name == "2026-11-30") == "2026-11-30 B"


def test_with_frame_changes_that_frame_alone() -> None:
    """A changed frame stands where it stood."""
    kept = read_negatives(json.dumps(TREE), "f")
    after: NegativeSet = kept.with_frame(Frame(frame="2", title="other"))
    assert [one.title for one in after.frames] == [None, "other", None]
    assert after.frames[0] is kept.frames[0]
