"""The seven sheets of one evening, the densities that each must have, and a printer who works them in virtual time.

The contact strip, the same by thirds of a stop, the proof; the strips of soft light, of hard over soft and of a burnt
sky, and the split-grade sheet. Source of the tables: the project's acceptance scenarios (invented demo data, reckoned
there by the demo paper's formula).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from controller.foot.places import ChangeFilter, Finished, Held, Light, Ready, SetUpAsked
from controller.picture.develop import Developed, develop_sheet
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import negatives_named, scene_for
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import read_recipe
from controller.store.records import SheetRecord
from hardware.practice.log import CardMoved, DodgerMoved, Entry, FilterPlaced
from hardware.practice.meter import Edge
from tools.foot_bench import FootBench
from tools.picture_darkroom import EXAMPLES

SAMPLES = Path(__file__).parents[2] / "controller" / "samples"
PIXELS = 150_000
OFF = -1
NEAR = 0.02
PROOF = {
    "outside": (1.06, 1.73, 2.0, 2.07, 2.09, 2.09, 2.1),
    "rebate": (0.91, 1.56, 1.91, 2.03, 2.07, 2.09, 2.09),
}
SOFT = {"cloud": (0.05, 0.05, 0.06, 0.08, 0.12, 0.21, 0.36)}
HARD_OVER_SOFT = {
    "under_cab": (1.72, 1.8, 1.87, 1.95, 2.01, 2.05, 2.07),
    "cloud": (0.14, 0.14, 0.15, 0.16, 0.17, 0.19, 0.21),
}
SKY = {"sky": (0.07, 0.09, 0.14, 0.25, 0.4)}
PROOF_LIGHT = {"outside": 2.07, "rebate": 2.03}
"""A proof of 12 s: what band 4 of the contact strip has."""
BY_THIRDS_S = (6.0, 7.6, 9.5, 12.0, 15.1, 19.0, 24.0)
GIVEN = {
    "sky": (20.2, 8.0),
    "cloud": (20.2, 8.0),
    "steel": (10.1, 8.0),
    "under_cab": (10.1, 6.3),
    "quay": (10.1, 8.0),
    "stones": (10.1, 12.7),
}
"""Seconds (soft, hard) of each tone of the split-grade sheet by its plan: the sky, its cloud with it, a soft burn of
10.1 s more, the shade under the cab 1.7 s of hard light held back, the stones 4.7 s of it more."""
NEGATIVE = {
    "outside": 0.0,
    "rebate": 0.08,
    "under_cab": 0.22,
    "stones": 0.55,
    "steel": 0.7,
    "quay": 0.95,
    "cloud": 1.25,
    "sky": 1.45,
}


def by_formula(tone: str, *, contact_s: float = 0.0, soft_s: float = 0.0, hard_s: float = 0.0) -> float:
    """Return a tone's density on paper one as the scenarios' formula has it, of none of the program's figures."""
    blue = 0.111 * contact_s + 0.012648 * soft_s + 0.161 * hard_s
    green = 0.74 * contact_s + 1.054 * soft_s + 0.000322 * hard_s
    lights = [(blue + g * green) * 10 ** -NEGATIVE[tone] for g in (1.0, 0.28, 0.08)]
    return 0.05 + sum(2.05 / 3 / (1 + math.exp(-10 * math.log10(light))) for light in lights)


class Hands(Protocol):
    """Where a printer's hands are logged: the practice darkroom, or a log in virtual time."""

    def log_filter(self, name: str) -> None: ...
    def log_card(self, way: str, place: int) -> None: ...
    def log_dodger(self, area: str, inside: bool, act: str) -> None: ...


@dataclass(frozen=True)
class Sheet:
    """A sheet, and what its printer's hands do before the light of a step: by the number of the step."""

    text: Path
    negative: str = "crane"
    filters: Mapping[int, str] = field(default_factory=dict)
    way: str = "cover"
    card: Mapping[int, int] = field(default_factory=dict)
    tools: Mapping[int, tuple[str, str]] = field(default_factory=dict)
    """(area, act); its tool is taken away again before the next step."""
    stopped_after: float | None = None
    """A foot comes down so many seconds into the first light; another one lets it go on."""

    def move(self, room: Hands, number: int) -> None:
        if before := self.tools.get(number - 1):
            room.log_dodger(before[0], False, before[1])
        if name := self.filters.get(number):
            room.log_filter(name)
        if (place := self.card.get(number)) is not None:
            room.log_card(self.way, place)
        if now := self.tools.get(number):
            room.log_dodger(now[0], True, now[1])


EVENING = {
    "proof strip": Sheet(EXAMPLES / "proof.strip.json", "proof", {1: "2"}, card={n: 8 - n for n in range(1, 8)}),
    "thirds": Sheet(EXAMPLES / "thirds.strip.json", "proof", {1: "2"}, "uncover", {n: n for n in range(1, 8)}),
    "proof": Sheet(EXAMPLES / "proof.recipe.json", "proof", {1: "2"}, stopped_after=7.4),
    "soft": Sheet(SAMPLES / "3-soft.strip.json", filters={1: "soft"}, card={n: 8 - n for n in range(1, 8)}),
    "hard": Sheet(
        EXAMPLES / "hard.strip.json",
        filters={1: "soft", 2: "hard"},
        card={1: OFF} | {n: 9 - n for n in range(2, 9)},
    ),
    "sky": Sheet(
        EXAMPLES / "sky.strip.json", filters={1: "soft", 6: "hard"}, card={1: OFF, 2: 4, 3: 3, 4: 2, 5: 1, 6: OFF}
    ),
    "crane": Sheet(
        EXAMPLES / "crane.recipe.json",
        filters={1: "soft", 3: "hard"},
        tools={2: ("A", "burn"), 3: ("C", "dodge"), 5: ("B", "burn")},
    ),
}


class VirtualHands:
    """A log of hands whose moments are a bench's."""

    def __init__(self, bench: FootBench) -> None:
        self._bench = bench
        self.log: list[Entry] = []

    def log_filter(self, name: str) -> None:
        self.log.append(FilterPlaced(self._bench.now_ns, name))

    def log_card(self, way: str, place: int) -> None:
        self.log.append(CardMoved(self._bench.now_ns, way, place))

    def log_dodger(self, area: str, inside: bool, act: str) -> None:
        self.log.append(DodgerMoved(self._bench.now_ns, area, act, inside))


def worked_in_virtual_time(sheet: Sheet) -> Developed:
    """Work a sheet to its end by foot and hands through the keeper's own core, and develop it."""
    plan = compile_any(read_recipe(sheet.text.read_bytes(), sheet.text.name), source="evening", version=1)
    bench = FootBench(plan, filter_in="")
    hands, moved, stop_after = VirtualHands(bench), 0, sheet.stopped_after
    while not (closed := [record for record in bench.sheets() if record.closed]):
        assert bench.now_ms < 600_000, bench.place
        match bench.place:
            case ChangeFilter() | Ready() | Finished() | Held():
                bench.run(bench.timing.wait_after_stop_ms + 120)
                assert bench.state.work is not None
                number = bench.state.work.step.number
                if isinstance(bench.place, Ready) and number != moved:
                    moved = number
                    sheet.move(hands, moved)
                bench.press(bench.timing.hold_ms + 40 if isinstance(bench.place, Finished) else 35)
                bench.run(150)
            case SetUpAsked():
                bench.press(35)
                bench.run(150)
            case Light() if stop_after is not None:
                bench.run(stop_after * 1000)
                stop_after = None
                bench.press(35)
        bench.run(20)
    return developed_by(sheet, closed[0], hands.log, bench.edges)


def developed_by(sheet: Sheet, record: SheetRecord, log: list[Entry], edges: tuple[Edge, ...]) -> Developed:
    """Develop a sheet from its record, the hands' log and the lamp's edges."""
    assert record.outcome == "complete"
    assert sheet.stopped_after is None or len(record.steps[0].parts) > 1, "no foot stopped the light"
    scene = scene_for(
        read_recipe(sheet.text.read_bytes(), sheet.text.name), negatives_named(sheet.negative), pixels=PIXELS
    )
    return develop_sheet(record, log, scene, practice_paper("one"), edges=edges)


def differences(name: str, sheet: Developed) -> list[str]:
    """Return the tones of an evening's sheet that are not as dense as they must be, band by band."""
    seen_and_wanted: dict[str, tuple[list[float], list[float]]] = {}
    if name in _STRIPS:
        for tone, wanted in _STRIPS[name].items():
            seen_and_wanted[tone] = [sheet.density(tone, band) for band in range(1, len(wanted) + 1)], list(wanted)
    elif name == "thirds":
        for tone in PROOF:
            wanted = [by_formula(tone, contact_s=seconds) for seconds in BY_THIRDS_S]
            seen_and_wanted[tone] = [sheet.density(tone, band) for band in range(1, 8)], wanted
    elif name == "proof":
        for tone, density in PROOF_LIGHT.items():
            seen_and_wanted[tone] = [sheet.density(tone)], [density]
    else:
        for tone, (soft, hard) in GIVEN.items():
            seen_and_wanted[tone] = [sheet.density(tone)], [by_formula(tone, soft_s=soft, hard_s=hard)]
        seen_and_wanted["the sky as in its strip"] = [sheet.density("sky")], [SKY["sky"][3]]
    assert seen_and_wanted, name
    return [
        f"{tone}: {seen}, not {wanted}"
        for tone, (seen, wanted) in seen_and_wanted.items()
        if any(abs(one - other) > NEAR for one, other in zip(seen, wanted, strict=True))
    ]


_STRIPS = {"proof strip": PROOF, "soft": SOFT, "hard": HARD_OVER_SOFT, "sky": SKY}
