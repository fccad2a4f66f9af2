"""The settings as a form shows them: what each is called, what it may be, and what was typed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

from controller.store.settings import choices, limits
from controller.words import say

if TYPE_CHECKING:
    from controller.store.settings import Settings


@dataclass(frozen=True, slots=True)
class Entry:
    """One setting on the form."""

    key: str
    name: str
    why: str
    kind: Literal["number", "switch", "choice"]
    value: str
    least: str = ""
    most: str = ""
    choices: tuple[str, ...] = ()
    wrong: str = ""
    """Why what was typed is refused."""


OPEN: Final = ("hold_seconds", "lead_in_seconds", "settle_seconds", "safe_minutes")
"""What stands open: the settings that a printer finds out in the first evenings."""
FOLDS: Final[Mapping[str, tuple[str, ...]]] = {
    "foot": ("beat_seconds", "focus_limit_minutes", "lid_single_hold"),
    "light": ("longest_light_seconds", "trays"),
    "lamp": (
        "lamp_lag_seconds",
        "warm_up_seconds",
        "warm_up_pause_minutes",
        "light_sensor",
        "sensor_gain",
        "give_dose",
    ),
    "phone": ("start_from_phone",),
}
"""What is folded, by the word for it. `filters` has no place: there is nothing to choose, and two lamps are wired."""


def fold(of: Sequence[Entry], keys: Sequence[str]) -> tuple[Entry, ...]:
    """Return the settings of one fold, in its order."""
    by_key = {entry.key: entry for entry in of}
    return tuple(by_key[key] for key in keys)


def entries(of: Settings, typed: Mapping[str, str] | None = None, refused: str = "") -> tuple[Entry, ...]:
    """Return every setting in its order; what was typed stands in for what is kept, with what is `refused` of it."""
    wrong = _wrong(refused, type(of))
    return tuple(
        replace(_entry(key, getattr(of, key), (typed or {}).get(key)), wrong=wrong.get(key, ""))
        for key in type(of).model_fields
    )


def _wrong(refused: str, of: type[Settings]) -> dict[str, str]:
    """Return each sentence of a refusal by the first setting that it names."""
    found: dict[str, str] = {}
    for sentence in refused.split(f"{say('settings.page')}: "):
        key = re.search(rf"\b({'|'.join(map(re.escape, of.model_fields))})\b", sentence)
        if key is not None:
            found.setdefault(key[1], called_as_on_the_page(sentence, of).strip())
    return found


def read_form(form: Mapping[str, str], of: type[Settings]) -> tuple[dict[str, object], dict[str, str]]:
    """Return the changes that a form asks for, and what was typed; a switch that is not sent is off."""
    typed = {key: form[key].strip() for key in of.model_fields if key in form}
    for key in of.model_fields:
        if choices(key) == ("true", "false") and f"{key}-shown" in form:
            typed.setdefault(key, "false")
    return {**typed}, typed


def called_as_on_the_page(sentence: str, of: type[Settings]) -> str:
    """Return a refusal's sentence with every setting called what its field is called, not by its key."""
    keys = "|".join(re.escape(key) for key in of.model_fields)
    words = re.sub(rf"“?\b({keys})\b”?", lambda key: f"“{say(f'page.setting-{key[1]}')}”", sentence)
    return words.replace(f"{say('settings.page')}: ", "")


def _entry(key: str, value: object, typed: str | None) -> Entry:
    name, why = say(f"page.setting-{key}"), say(f"page.setting-{key}-why")
    if isinstance(value, bool):
        return Entry(key, name, why, "switch", typed or ("true" if value else "false"))
    least, most = limits(key)
    if isinstance(value, float) and least is not None and most is not None:
        return Entry(key, name, why, "number", typed if typed is not None else f"{value:g}", f"{least:g}", f"{most:g}")
    return Entry(key, name, why, "choice", typed or str(value), choices=choices(key))
