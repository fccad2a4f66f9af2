"""The form of the practice darkroom's scene: what is chosen, what is typed, and in which order it stands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from controller.exposure.decimals import decimal_of
from controller.picture.negatives import ROLL, SHEETS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

CHOICES: Final = {
    "negative": ("carrier", *SHEETS, "proof", *ROLL, "film", "own"),
    "second": ("none", *SHEETS, *ROLL, "own"),
    "paper": ("one", "two"),
    "lamp": ("ideal", "tungsten", "slow"),
    "condenser": ("right", "wrong"),
    "lens": ("right", "short"),
    "carrier": ("square", "left", "right", "front", "back"),
    "safelight": ("safe", "unsafe"),
    "trays": ("real", "hurried", "once"),
    "developer": ("fresh", "cold", "tired"),
    "card": ("plan", "cover", "uncover", "window"),
    "filter_left": ("put", "soft", "hard", "none"),
    "phone": ("away", "lit"),
    "phone_page": ("dark", "leaking", "white"),
}
CHOICE_WORDS: Final = {
    "negative": "practice.negative-",
    "second": "practice.negative-",
    "paper": "practice.paper-",
    "lamp": "practice.lamp-",
    "condenser": "practice.condenser-",
    "lens": "practice.lens-",
    "carrier": "practice.carrier-",
    "safelight": "practice.safelight-",
    "trays": "practice.trays-",
    "developer": "practice.developer-",
    "card": "practice.card-",
    "filter_left": "practice.filter-left-",
    "phone": "practice.phone-",
    "phone_page": "practice.phone-page-",
}
"""How the keys of their words begin."""
FIGURES: Final = {
    "own_thin": 1,
    "own_dense": 1,
    "exponent": 1,
    "safelight_minutes": 1,
    "safelight_times": 1,
    "focus_ms": 1000,
    "card_late_ms": 1000,
    "dodger_late_ms": 1000,
    "stray_percent": 1,
    "flare_percent": 1,
    "callier": 1,
    "falloff_percent": 1,
    "relay_on_ms": 1,
    "relay_off_ms": 1,
}
"""What is typed, and by how much it is multiplied to be kept: seconds are kept as ms."""
TEXTS: Final = ("forgotten",)
FIRST: Final = (
    "negative",
    "own_thin",
    "own_dense",
    "paper",
    "trays",
    "card_late_ms",
    "filter_left",
    "focus_ms",
    "safelight",
)
"""What a beginner sees of these: what is printed, and the usual mishaps. The rest is one tap deeper, in groups."""
DEEPER: Final = {
    "carrier": ("second",),
    "hands": ("card", "dodger_late_ms", "forgotten"),
    "room": ("safelight_minutes", "safelight_times", "phone", "phone_page"),
    "trays": ("developer",),
    "paper": ("exponent",),
    "lens": ("condenser", "lens", "carrier", "falloff_percent", "callier", "flare_percent", "stray_percent"),
    "lamp": ("lamp", "relay_on_ms", "relay_off_ms"),
}


def first(*, two_carriers: bool) -> tuple[str, ...]:
    """Return what a beginner sees; what is in carrier B too, where the recipe prints from two negatives."""
    return (*FIRST[:1], *(DEEPER["carrier"] if two_carriers else ()), *FIRST[1:])


def deeper(*, two_carriers: bool) -> dict[str, tuple[str, ...]]:
    """Return what is one tap deeper, by its group."""
    return {group: names for group, names in DEEPER.items() if group != "carrier" or not two_carriers}


def typed_scene(form: Mapping[str, str]) -> Iterator[tuple[str, object]]:
    """Give what the form says of the scene; what is left empty is as usual.

    Raises:
        ValueError: a figure is none.
    """
    for name in CHOICES:
        if chosen := form.get(name):
            yield name, chosen
    for name in TEXTS:
        yield name, form.get(name, "").strip().upper()
    for name, times in FIGURES.items():
        if typed := form.get(name, "").strip():
            if (value := decimal_of(typed)) is None:
                raise ValueError(typed)
            yield name, round(value * times) if times != 1 else float(value)
