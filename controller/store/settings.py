"""What a printer can set, each setting documented beside its field; kept on the shelf as versions."""

from __future__ import annotations

import json
from typing import Final, Literal, Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from controller.errors import NotThere
from controller.exposure.decimals import decimal_of
from controller.keeping import Keeps, ThingKind
from controller.model import Frozen
from controller.recipe import versioned
from controller.recipe.fields import refusal
from controller.recipe.versioned import VersionedForm
from controller.store.shelf import Shelf
from controller.store.versions import Kept
from controller.words import say
from hardware.timing import Timing

FORMAT: Final = "treadle/settings/1"
KIND: Final = "settings"
"""Of a thing on the shelf; there is one set of settings, so it is the id and the title as well."""
LEAD_OVER_HOLD_SECONDS: Final = 0.4
"""A lead-in outlasts a hold, a double (0.35 s) and 0.05 s: every gesture is decided before there is light."""


class Settings(Frozen):
    """How the foot switch, the lamp and the page behave. What the keeper needs of them it takes at its start."""

    hold_seconds: float = Field(
        default=0.8,
        ge=0.8,
        le=1.5,
        description="How long the foot stays down for a hold: to close a sheet, or to ask for white light.",
    )
    lead_in_seconds: float = Field(
        default=2.0,
        ge=1.2,
        le=5.0,
        description="From the first contact of a press to the light; at least 0.4 s longer than a hold. "
        "Without a working sounder it is 4 s.",
    )
    settle_seconds: float = Field(
        default=3.0,
        ge=1.0,
        le=10.0,
        description="After a filter is put in: time for the hands to come out and the head to stop shaking.",
    )
    beat_seconds: float = Field(
        default=5.0,
        ge=3.0,
        le=10.0,
        description="How often focus light sounds its soft beat.",
    )
    focus_limit_minutes: float = Field(
        default=5.0, ge=1.0, le=10.0, description="Focus light goes dark by itself after this long."
    )
    lamp_lag_seconds: float = Field(
        default=0.0,
        ge=0.0,
        le=0.5,
        description="Seconds of full light that one switching of the lamp loses while it warms up. "
        "0 leaves every time as it is.",
    )
    warm_up_seconds: float = Field(
        default=0.0,
        ge=0.0,
        le=600.0,
        description="How long a cold-cathode or fluorescent head is lit before its light is steady. "
        "0: a lamp that needs no warming.",
    )
    warm_up_pause_minutes: float = Field(
        default=15.0,
        ge=1.0,
        le=240.0,
        description="A lamp that has been dark for so long is cold again, where it needs warming at all.",
    )
    light_sensor: Literal["none", "tsl2591"] = Field(
        default="none",
        description="The light sensor beside the easel, on the Pi's I2C bus 1; in practice a practised one.",
    )
    sensor_gain: Literal["low", "medium", "high", "max"] = Field(
        default="high",
        description="How strongly the sensor counts; one that is dazzled needs less. Only levels of one gain compare.",
    )
    give_dose: bool = Field(
        default=False,
        description="With a light sensor: a step's exposure ends when the paper has had its dose, up to a third of a "
        "stop earlier or later than its time. Not for strips, steps with a card or dodger, and under 4 s.",
    )
    longest_light_seconds: float = Field(
        default=600.0, ge=10.0, le=900.0, description="No step is longer than this; a longer one is refused."
    )
    start_from_phone: bool = Field(
        default=False,
        description="A paired phone may begin a step, from its dark page, with the same lead-in as the foot.",
    )
    lid_single_hold: bool = Field(
        default=False,
        description="With a contact on the paper box's lid, and the lid shut, one hold is enough for focus light.",
    )
    filters: Literal["hand"] = Field(
        default="hand",
        description="How filters in the drawer of the lamphouse are changed: by hand. A head with a lamp pin for soft "
        "and one for hard is named in the wiring file.",
    )
    safe_minutes: float = Field(
        default=0.0,
        ge=0.0,
        le=30.0,
        description="Minutes that paper may lie under the safelight, by your own test, the phone included. "
        "0: not tested, nothing is shown.",
    )

    trays: Literal["clocks", "by time"] = Field(
        default="clocks",
        description="After the close each print is followed through its trays, and white light waits until it is "
        "fixed. “By time”: nothing is followed, and white light waits for five minutes.",
    )

    @field_validator("*", mode="before")
    @classmethod
    def _number_as_typed(cls, value: object, info: ValidationInfo) -> object:
        if cls.model_fields[info.field_name or ""].annotation is not float:
            return value
        number = decimal_of(value) if isinstance(value, str) else value
        if number is None or isinstance(number, bool):
            raise refusal("recipe.not-a-number")
        return number

    @model_validator(mode="after")
    def _lead_in_outlasts_hold(self) -> Self:
        # Compared in whole milliseconds, as the keeper will: 1.1 + 0.4 is a hair over 1.5 in binary.
        if _ms(self.lead_in_seconds) < _ms(self.hold_seconds) + _ms(LEAD_OVER_HOLD_SECONDS):
            raise refusal(
                "settings.lead-in",
                at=("lead_in_seconds",),
                hold=f"{self.hold_seconds:g}",
                least=f"{self.hold_seconds + LEAD_OVER_HOLD_SECONDS:g}",
            )
        return self


_FORM: Final = VersionedForm(FORMAT, Settings, every=True)


def timing(settings: Settings) -> Timing:
    """Return the keeper's table of spans for these settings; within its limits whatever they are."""
    return Timing(
        hold_ms=_ms(settings.hold_seconds),
        lead_in_ms=_ms(settings.lead_in_seconds),
        settle_ms=_ms(settings.settle_seconds),
        beat_ms=_ms(settings.beat_seconds),
        focus_limit_ms=_ms(settings.focus_limit_minutes * 60),
        longest_light_ms=_ms(settings.longest_light_seconds),
    ).checked(practice=False)


def changed(settings: Settings, changes: dict[str, object]) -> Settings:
    """Return the settings with some of them changed; numbers may come as text, as a page sends them.

    Raises:
        Unreadable: one sentence for each setting that cannot be so; nothing is changed.
    """
    return versioned.checked({**settings.model_dump(), **changes}, say("settings.page"), _FORM)


def write_settings(settings: Settings) -> str:
    """Return the settings as the text that is kept and exported."""
    return json.dumps({"format": FORMAT, **settings.model_dump()}, indent=1, ensure_ascii=False) + "\n"


def read_settings(text: str, name: str) -> Settings:
    """Return the settings of a text; `name` is the file's, for the sentence. What it leaves out keeps its default.

    Raises:
        Unreadable: the sentence names the file, the setting and what would do.
    """
    return versioned.read(text, name, _FORM)


def kept_settings(shelf: Shelf) -> Settings:
    """Return the settings on the shelf, or the defaults where none were ever kept.

    Raises:
        Unreadable: what is kept does not fit this software.
    """
    try:
        kept = shelf.get(KIND)
    except NotThere:
        return Settings()
    return read_settings(kept.body, say("settings.kept", version=kept.version))


def keep_settings(shelf: Shelf, settings: Settings) -> Kept:
    """Keep the settings as a new version; the ones in force already make none."""
    return shelf.save(KIND, KIND, write_settings(settings), only=True)


def _title(text: str, name: str) -> str:
    read_settings(text, name)
    return KIND


KEEPS: Final = Keeps(room="settings", things=(ThingKind(KIND, "settings", FORMAT, _title, only=True),))


def limits(key: str) -> tuple[float | None, float | None]:
    """Return the least and the most of a setting that is a number; (None, None) of another."""
    least = most = None
    for rule in Settings.model_fields[key].metadata:
        least = getattr(rule, "ge", least)
        most = getattr(rule, "le", most)
    return least, most


def choices(key: str) -> tuple[str, ...]:
    """Return what a setting that is no number can be, as text."""
    kind = Settings.model_fields[key].annotation
    return ("true", "false") if kind is bool else tuple(getattr(kind, "__args__", ()))


def _ms(seconds: float) -> int:
    return round(seconds * 1000)
