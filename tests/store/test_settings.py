"""Settings are documented, kept within what the keeper allows, and refused in sentences."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tools.history import FakeWall

from controller.errors import Unreadable
from controller.store.settings import (
    FORMAT,
    Settings,
    changed,
    choices,
    keep_settings,
    kept_settings,
    limits,
    read_settings,
    timing,
    write_settings,
)
from controller.store.shelf import Shelf
from controller.words import say
from hardware.timing import Timing


def _number(key: str) -> st.SearchStrategy[float]:
    least, most = limits(key)
    assert least is not None
    assert most is not None
    return st.floats(least, most)


NUMBERS = [key for key in Settings.model_fields if limits(key)[0] is not None]
valid = st.builds(
    Settings,
    start_from_phone=st.booleans(),
    lid_single_hold=st.booleans(),
    **{key: _number(key) for key in NUMBERS if key != "lead_in_seconds"},
    lead_in_seconds=st.floats(1.9, 5.0),
)


@pytest.mark.parametrize("key", Settings.model_fields)
def test_every_setting_is_documented_and_has_a_name(key: str) -> None:
    """Each setting has words beside its field, a name in the catalogue, and limits or choices."""
    assert (Settings.model_fields[key].description or "").endswith(".")
    assert say(f"settings.{key}")
    assert limits(key)[0] is not None or choices(key)


def test_the_defaults_are_the_timing_tables_own() -> None:
    """Settings that nobody touched give the table that the foot switch was designed with."""
    assert timing(Settings()) == Timing()


@given(valid)
def test_whatever_can_be_set_the_keeper_accepts(settings: Settings) -> None:
    """Every valid settings gives a timing table within the floors and ceilings for real lines."""
    table = timing(settings)
    assert table == table.checked(practice=False)
    assert abs(table.lead_in_ms - settings.lead_in_seconds * 1000) <= 0.5


@given(st.integers(800, 1500), st.integers(1200, 5000))
def test_a_lead_in_outlasts_the_hold(hold_ms: int, lead_in_ms: int) -> None:
    """A lead-in of less than hold + 0.4 s is refused with the least that would do; any other is taken."""
    changes: dict[str, object] = {"hold_seconds": hold_ms / 1000, "lead_in_seconds": lead_in_ms / 1000}
    if lead_in_ms >= hold_ms + 400:
        assert timing(changed(Settings(), changes)).hold_ms == hold_ms
    else:
        with pytest.raises(Unreadable, match=f"give at least {(hold_ms + 400) / 1000:g}, or shorten hold_seconds"):
            changed(Settings(), changes)


@given(valid)
def test_written_settings_read_back_the_same(settings: Settings) -> None:
    """Settings → text → settings is the identity, and so is text → settings → text."""
    text = write_settings(settings)
    assert read_settings(text, "settings.json") == settings
    assert write_settings(read_settings(text, "settings.json")) == text


def _with(**values: object) -> str:
    return json.dumps({"format": FORMAT, **values})


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (_with(hold_seconds=0.7), "“hold_seconds” is 0.7, and must be from 0.8 to 1.5."),
        (_with(lead_in_seconds=5.1), "“lead_in_seconds” is 5.1, and must be from 1.2 to 5."),
        (_with(settle_seconds=11), "“settle_seconds” is 11, and must be from 1 to 10."),
        (_with(beat_seconds=2.9), "“beat_seconds” is 2.9, and must be from 3 to 10."),
        (_with(focus_limit_minutes=0), "“focus_limit_minutes” is 0, and must be from 1 to 10."),
        (_with(lamp_lag_seconds=-0.1), "“lamp_lag_seconds” is -0.1, and must be from 0 to 0.5."),
        (_with(longest_light_seconds=901), "“longest_light_seconds” is 901, and must be from 10 to 900."),
        (_with(safe_minutes=31), "“safe_minutes” is 31, and must be from 0 to 30."),
        (_with(hold_seconds="1 s"), "“hold_seconds” is “1 s”, and must be a plain number"),
        (_with(hold_seconds=True), "“hold_seconds” is “true”, and must be a plain number"),
        (_with(hold_seconds=None), "“hold_seconds” is “null”, and must be a plain number"),
        (_with(hold_seconds=float("nan")), "“hold_seconds” is “nan”, and must be a plain number"),
        (_with(beat_seconds=float("inf")), "“beat_seconds” is “inf”, and must be a plain number"),
        (_with(filters="lines"), "“filters” is “lines”, and must be one of: hand."),
        (_with(start_from_phone="perhaps"), "“start_from_phone” is “perhaps”, and must be one of: true, false."),
        (_with(hold=1), "s.json: “hold” is not known there, so take it out or write “hold_seconds”"),
        ('{"format": "treadle/settings/1", "hold_seconds": 1, "hold_seconds": 1}', "“hold_seconds” is there twice"),
        ("{", "line 1, column 2 is not JSON"),
        ("[" * 100_000, "nested too deep"),
        ("[]", "must be one object"),
        ('{"hold_seconds": 1}', "“format” is missing, so add it at the top: “treadle/settings/1”"),
        ('{"format": "treadle/settings/2"}', "of a newer Treadle"),
        (" " * 300_000, "larger than 256 kB"),
    ],
)
def test_bad_settings_are_refused_in_a_sentence(text: str, sentence: str) -> None:
    """What cannot be so is refused with the file, the setting and what would do."""
    with pytest.raises(Unreadable) as refused:
        read_settings(text, "s.json")
    assert sentence in str(refused.value)


def test_every_bad_setting_is_named_at_once() -> None:
    """Two bad settings are both named, so that both can be mended."""
    with pytest.raises(Unreadable, match=r"“beat_seconds” is 99.*“safe_minutes” is -1"):
        changed(Settings(), {"beat_seconds": 99, "safe_minutes": -1})


def test_a_page_may_send_text() -> None:
    """Numbers and truths as text, as a form sends them, are taken."""
    settings = changed(Settings(), {"hold_seconds": "1.1", "lead_in_seconds": "1.5", "start_from_phone": "true"})
    assert (settings.hold_seconds, settings.lead_in_seconds, settings.start_from_phone) == (1.1, 1.5, True)


def test_settings_are_kept_as_versions() -> None:
    """An empty shelf gives the defaults; each change is a version; keeping what is in force makes none."""
    with Shelf.in_memory(FakeWall().now) as shelf:
        assert kept_settings(shelf) == Settings()
        new = Settings(beat_seconds=7.0)
        assert keep_settings(shelf, new).version == 1
        assert keep_settings(shelf, new).version == 1
        assert keep_settings(shelf, Settings()).version == 2
        keep_settings(shelf, new)
        assert kept_settings(shelf) == new
