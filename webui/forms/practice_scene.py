"""The form of the practice darkroom's scene: what is chosen, what is typed, and in which order it stands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from pydantic import ValidationError

from controller.exposure.decimals import decimal_of, decimal_within
from controller.picture.negatives import ROLL, SHEETS
from controller.practice.practice_scene import PracticeScene
from controller.words import say
from webui.forms.form import LONGEST_FIELD, Refusal, Shown

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


def label(name: str) -> str:
    """Return what a field is called."""
    return say("practice.scene-" + name.replace("_ms", "").replace("_percent", "").replace("_", "-"))


def read_scene(form: Mapping[str, str]) -> Shown[PracticeScene]:
    """Return the scene that a form says, what is left empty as usual; or why not, beside the first wrong field."""
    for name in FIGURES:
        least, most = _limits(name)
        if (typed := form.get(name, "").strip()) and decimal_within(typed, least, most) is None:
            words = say("practice.scene-figure", label=label(name), found=typed, least=f"{least:g}", most=f"{most:g}")
            return Shown(refusal=Refusal(words, name, 422))
    try:
        return Shown(PracticeScene.model_validate(dict(_typed(form))))
    except ValidationError as wrong:
        if not (place := wrong.errors()[0]["loc"]):
            return Shown(refusal=Refusal(say("practice.scene-own-range"), "own_dense", 422))
        name = str(place[0])
        words = say("practice.scene-other", label=label(name), found=form.get(name, "").strip()[:LONGEST_FIELD])
        return Shown(refusal=Refusal(words, name, 422))


def _limits(name: str) -> tuple[float, float]:
    """Return the least and the most that may be typed."""
    kept = PracticeScene.model_fields[name].metadata
    least, most = (next(getattr(one, side) for one in kept if hasattr(one, side)) for side in ("ge", "le"))
    return least / FIGURES[name], most / FIGURES[name]


def _typed(form: Mapping[str, str]) -> Iterator[tuple[str, object]]:
    for name in CHOICES:
        if chosen := form.get(name):
            yield name, chosen
    for name in TEXTS:
        yield name, form.get(name, "").strip().upper()
    for name, times in FIGURES.items():
        if (value := decimal_of(form.get(name, ""))) is not None:
            yield name, round(value * times) if times != 1 else float(value)
