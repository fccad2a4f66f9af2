"""How the practice darkroom is set up for the picture: negative, paper, lamp, lens, hands and stray light; kept."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal, Self

from pydantic import Field, ValidationError, model_validator

from controller.files import write_whole
from controller.model import Frozen
from controller.picture.scene import Enlarger, Scene

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.picture.develop import Conditions

NegativeName = Literal[
    "carrier",
    "crane",
    "slip",
    "platform",
    "fence",
    "proof",
    "lighthouse",
    "pier",
    "hills",
    "viaduct",
    "oak",
    "birches",
    "fronts",
    "street",
    "roofs",
    "cloister",
    "jug",
    "cups",
    "film",
    "own",
]
"""Which negative; "carrier" is whichever stands at the enlarger."""
SecondName = Literal[
    "none",
    "crane",
    "slip",
    "platform",
    "fence",
    "lighthouse",
    "pier",
    "hills",
    "viaduct",
    "oak",
    "birches",
    "fronts",
    "street",
    "roofs",
    "cloister",
    "jug",
    "cups",
    "own",
]
"""Which negative lies in carrier B; "none" for an empty carrier."""
PaperName = Literal["one", "two"]
TraysPace = Literal["real", "hurried", "once"]
_FILE: Final = "scene.json"
SMALL_CONDENSER_MM: Final = 90.0
"""The diagonal of a 6 × 6 cm negative, rounded up: condensers for it light only the middle of 4 × 5 in."""
SHORT_LENS_MM: Final = 80.0
"""A usual lens for 6 × 6 cm: it lights only a round middle of 4 × 5 in."""
OUT_MM: Final = 0.5
"""How much too high one side of a carrier lies that is out of square, from edge to edge of the frame."""
HURRY: Final[dict[TraysPace, int]] = {"real": 1, "hurried": 20, "once": 1000}
"""How many times faster than real the trays go: at 20 a print on RC bears white light after 8 s, at 1000 at once."""
UNSAFE: Final = 10.0
"""How much more an unsafe safelight gives."""


class PracticeScene(Frozen):
    """What a person chooses on the practice page. Times in ms are how late a hand comes where the log is silent."""

    negative: NegativeName = "carrier"
    second: SecondName = "platform"
    """It counts where a recipe prints from two negatives, each in a carrier of its own."""
    paper: PaperName = "one"
    lamp: Literal["ideal", "tungsten", "slow"] = "ideal"
    condenser: Literal["right", "wrong"] = "right"
    lens: Literal["right", "short"] = "right"
    carrier: Literal["square", "left", "right", "front", "back"] = "square"
    """Which side of it lies too high, by `OUT_MM`."""
    safelight: Literal["safe", "unsafe"] = "safe"
    safelight_times: float = Field(default=1.0, ge=0.0, le=1000.0)
    """How many times the light of a safe one it gives, or of an unsafe one."""
    phone_page: Literal["dark", "leaking", "white"] = "dark"
    """What a phone beside the paper shows in its test: its dark page, that on a bright screen, or a white one."""
    trays: TraysPace = "hurried"
    """As long as the process has them, or hurried."""
    developer: Literal["fresh", "cold", "tired"] = "fresh"
    exponent: float = Field(default=1.0, ge=0.8, le=1.0)
    """Of the paper: under 1 it fails in long light."""
    safelight_minutes: float = Field(default=0.0, ge=0.0, le=120.0)
    """The paper lay under the safelight so long before its first step; from then on the light itself is counted."""
    stray_percent: float = Field(default=0.0, ge=0.0, le=100.0)
    flare_percent: float = Field(default=0.0, ge=0.0, le=50.0)
    callier: float = Field(default=1.0, ge=0.8, le=2.0)
    falloff_percent: float = Field(default=0.0, ge=0.0, le=100.0)
    """How much of the lens's own fall-off the lamphouse leaves."""
    card_late_ms: int = Field(default=0, ge=0, le=60_000)
    dodger_late_ms: int = Field(default=0, ge=0, le=60_000)
    focus_ms: int = Field(default=0, ge=0, le=600_000)
    """The paper lay on the easel so long under focus light before its first step."""
    card: Literal["plan", "cover", "uncover", "window"] = "plan"
    """The way the card really goes where the log is silent."""
    filter_left: Literal["put", "soft", "hard", "none"] = "put"
    """What really stays in the drawer from the first step to the last; "put" for what was put there."""
    forgotten: str = Field(default="", max_length=60, pattern=r"^[A-Z ,]*$")
    """Letters of areas whose tool never comes where the log is silent."""
    phone: Literal["away", "lit"] = "away"
    """A lit phone lies beside the easel from before the sheet, until the log says otherwise."""
    relay_on_ms: int | None = Field(default=None, ge=0, le=1000)
    relay_off_ms: int | None = Field(default=None, ge=0, le=1000)
    """How late the relay switches; None as the lamp's own."""
    own_thin: float = Field(default=0.20, ge=0.0, le=4.0)
    """Density of the darkest part of a picture of one's own, as a negative; and of the lightest:"""
    own_dense: float = Field(default=1.40, ge=0.0, le=4.0)

    @model_validator(mode="after")
    def _has_range(self) -> Self:
        if self.own_thin >= self.own_dense:
            raise ValueError("the dense end of a negative lies over the thin one")
        return self

    @property
    def hurry(self) -> int:
        """How many times faster than real the trays go."""
        return HURRY[self.trays]

    def enlarger(self) -> Enlarger:
        """Return the enlarger with the condensers that are in its head; its lens is `lens_on`'s."""
        return Enlarger(
            condenser_mm=SMALL_CONDENSER_MM if self.condenser == "wrong" else None,
            callier=self.callier,
            flare_share=self.flare_percent / 100,
            falloff=self.falloff_percent / 100,
            left_high_mm={"left": OUT_MM, "right": -OUT_MM}.get(self.carrier, 0.0),
            back_high_mm={"back": OUT_MM, "front": -OUT_MM}.get(self.carrier, 0.0),
        )

    def lens_on(self, scene: Scene) -> Scene:
        """Return a scene with the lens that is really on the enlarger, whatever a recipe says of it."""
        if self.lens == "right":
            return scene
        return replace(scene, enlarger=scene.enlarger.model_copy(update={"focal_mm": SHORT_LENS_MM}))

    def conditions(self, steps: Sequence[int] = ()) -> Conditions:
        """Return lamp, other light and slips; `steps` are the numbers of the sheet's steps. Loads numpy."""
        from controller.picture.develop import Conditions
        from controller.picture.hands import Slips
        from controller.picture.light import LAMPS, Lamp, Surroundings

        usual = Surroundings()
        safelight = usual.safelight.times(self.safelight_times * (UNSAFE if self.safelight == "unsafe" else 1.0))
        relay = {"operate_ms": self.relay_on_ms, "release_ms": self.relay_off_ms}
        late = {name: float(ms) for name, ms in relay.items() if ms is not None}
        lamp = LAMPS[self.lamp]
        left = "" if self.filter_left == "none" else self.filter_left
        return Conditions(
            lamp=Lamp(blue=replace(lamp.blue, **late), green=replace(lamp.green, **late)),
            surroundings=Surroundings(
                safelight=safelight, stray_share=self.stray_percent / 100, phone_lies_lit=self.phone == "lit"
            ),
            slips=Slips(
                card_late_ms=self.card_late_ms,
                dodger_late_ms=self.dodger_late_ms,
                burn_late_ms=self.dodger_late_ms,
                card_way=None if self.card == "plan" else self.card,
                filters_left=() if self.filter_left == "put" else tuple((number, left) for number in steps),
                forgotten=tuple(letter for letter in self.forgotten if letter.isalpha()),
                focus_ms=self.focus_ms,
                safelight_ms=round(self.safelight_minutes * 60_000),
            ),
            developer=self.developer,
            exponent=self.exponent,
        )


def read_scene(folder: Path) -> PracticeScene:
    """Return the kept scene; the usual one where none is kept or it cannot be read."""
    try:
        return _scene_in((folder / _FILE).read_bytes())
    except (OSError, ValidationError):
        return PracticeScene()


@lru_cache(maxsize=4)
def _scene_in(content: bytes) -> PracticeScene:
    # it is asked for several times a second while a page looks on
    return PracticeScene.model_validate_json(content)


def keep_scene(folder: Path, scene: PracticeScene) -> None:
    """Keep the scene in the folder, whole or not at all."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    write_whole(folder / _FILE, scene.model_dump_json(indent=1).encode())
