"""What each bath has had, and when it is to be poured away: by litre and area, by date, two fixes in turn. Pure.

Paper is counted in 8×10 (0.0516 m²), as what is printed of capacities is. No figure here is a maker's: what stands on
the bottle comes first.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import floor
from typing import Any, Final, Literal

from pydantic import Field, field_validator

from controller.model import Frozen
from controller.recipe import versioned
from controller.recipe.versioned import PlaceNames, VersionedForm
from controller.trays.development import is_slow
from controller.trays.process import BathName, Process, Support, number_as_typed

EIGHT_BY_TEN_M2: Final = 0.0516
"""8 × 10 inches."""
LEAST_LITRES: Final = 0.1
MOST_LITRES: Final = 100.0
_INCH_MM: Final = 25.4


class BathRule(Frozen):
    """How long one bath lasts; 0 is not counted, or no date."""

    litres: float = Field(ge=LEAST_LITRES, le=MOST_LITRES, description="In the tray, as a rule.")
    rc: float = Field(default=0.0, ge=0.0, le=1000.0, description="RC paper a litre, in 8×10.")
    fb: float = Field(default=0.0, ge=0.0, le=1000.0, description="FB paper a litre, in 8×10.")
    days: int = Field(default=0, ge=0, le=3650, description="Days that it keeps.")

    @field_validator("*", mode="before")
    @classmethod
    def _as_typed(cls, value: object) -> object:
        return number_as_typed(value)


class BathRules(Frozen):
    """How long each bath lasts. The smaller rule wins: capacity or date, whichever comes first.

    The usual figures. Paper developer about 100 RC or 50 FB a litre (from memory). One fix: RC 80 to 100 by what is
    sold for it (read, and from memory), the smaller taken; FB 40 with wash aid and 10 without, for prints that are
    to last (read). Two fixes 50 a litre, moved up once and three times more (common practice). Stop and aid are not
    counted: their bottles say it.
    """

    developer: BathRule = BathRule(litres=1.0, rc=100.0, fb=50.0)
    stop: BathRule = BathRule(litres=1.0)
    fix: BathRule = BathRule(litres=1.0, rc=80.0, fb=40.0)
    fix_without_aid: float = Field(
        default=10.0, ge=0.0, le=1000.0, description="One fix, FB paper a litre in 8×10, where no wash aid follows."
    )
    two_fixes: BathRule = BathRule(litres=1.0, rc=50.0, fb=50.0)
    changes: int = Field(
        default=4, ge=0, le=20, description="So often fix 2 moves up into fix 1; then both are poured away."
    )
    aid: BathRule = BathRule(litres=1.0)

    @field_validator("fix_without_aid", "changes", mode="before")
    @classmethod
    def _as_typed(cls, value: object) -> object:
        return number_as_typed(value)

    def of(self, tray: BathName) -> BathRule:
        """Return the rule of a tray."""
        match tray:
            case "developer":
                return self.developer
            case "stop":
                return self.stop
            case "fix":
                return self.fix
            case "fix 1" | "fix 2":
                return self.two_fixes
            case "aid":
                return self.aid


@dataclass(frozen=True, slots=True)
class Bath:
    """A bath, and what it has had in this tray; paper in 8×10."""

    tray: BathName
    id: str
    """Empty: nobody has said that it is fresh, and it is counted from its first print on."""
    litres: float
    made: str = ""
    """Wall time, a label."""
    use_by: str = ""
    """YYYY-MM-DD; empty where it has none."""
    moved_up: bool = False
    changes: int = 0
    prints: int = 0
    rc: float = 0.0
    fb: float = 0.0
    appearance_ms: int | None = None
    """Of a developer: when the last print first showed."""
    appeared_on: Support | Literal[""] = ""
    """What that print was on: each has its own usual time."""


Why = Literal["used up", "out of date", "slow"]


def share_used(bath: Bath, rules: BathRules, *, aid: bool = True) -> float:
    """Return how much of a bath's capacity is used, 1 where all of it is; RC and FB each by its own.

    `aid`: a wash aid follows the fix, so that a single fix may have more.
    """
    per_rc, per_fb = _per_litre(bath.tray, rules, aid=aid)
    used = 0.0
    for had, per_litre in ((bath.rc, per_rc), (bath.fb, per_fb)):
        if per_litre:
            used += had / (per_litre * bath.litres)
    return used


def room_left(bath: Bath, rules: BathRules, support: Support, *, aid: bool = True) -> int | None:
    """Return how many more 8×10 of a support a bath may have; None where they are not counted."""
    per_litre = _per_litre(bath.tray, rules, aid=aid)[support == "FB"]
    if not per_litre:
        return None
    return max(0, floor((1 - share_used(bath, rules, aid=aid)) * per_litre * bath.litres + 1e-9))


def why_away(
    bath: Bath, rules: BathRules, today: date, *, aid: bool = True, usual_appearance_s: float | None = None
) -> tuple[Why, ...]:
    """Return why a bath is to be poured away, or, of a developer, warmed or made fresh; nothing while it will do.

    `usual_appearance_s`: when a print first shows in a fresh developer at its right temperature.
    """
    why: list[Why] = []
    if share_used(bath, rules, aid=aid) >= 1 - 1e-9:
        why.append("used up")
    if bath.use_by and date.fromisoformat(bath.use_by) < today:
        why.append("out of date")
    if bath.appearance_ms is not None and usual_appearance_s and is_slow(bath.appearance_ms / 1000, usual_appearance_s):
        why.append("slow")
    return tuple(why)


def made_fresh(
    tray: BathName,
    standing: Mapping[BathName, Bath],
    rules: BathRules,
    today: date,
    new_id: Callable[[], str],
    *,
    litres: float | None = None,
    use_by: str | None = None,
    both: bool = False,
) -> tuple[Bath, ...]:
    """Return the baths that stand in their trays once one is made fresh, with nothing in them yet.

    Of two fixes, the first is poured away and the second moves up, by what it is, and a fresh second follows; once
    that was done as often as the rules have it, or for `both`, both are fresh. A fresh `fix 2` alone changes no first.
    """
    rule = rules.of(tray)
    if use_by is None:
        use_by = (today + timedelta(days=rule.days)).isoformat() if rule.days else ""
    before = standing.get(tray)
    much = litres if litres is not None else before.litres if before is not None else rule.litres
    fresh = Bath(tray, new_id(), much, use_by=use_by)
    if tray not in ("fix 1", "fix 2"):
        return (fresh,)
    second, changes = standing.get("fix 2"), before.changes if before is not None else 0
    if tray == "fix 2" and not both:
        return (replace(fresh, changes=changes),)
    fresh = replace(fresh, tray="fix 2")
    if both or second is None or not second.id or not moves_up(standing, rules):
        return (replace(fresh, tray="fix 1", id=new_id()), fresh)
    up = Bath("fix 1", second.id, second.litres, use_by=second.use_by, moved_up=True, changes=changes + 1)
    return (up, replace(fresh, changes=changes + 1))


def moves_up(standing: Mapping[BathName, Bath], rules: BathRules) -> bool:
    """Tell whether fix 2 may move up into fix 1 once more."""
    first, second = standing.get("fix 1"), standing.get("fix 2")
    return first is not None and second is not None and bool(second.id) and first.changes < rules.changes


def without_aid(process: Process) -> bool:
    """Tell whether prints of a process go without wash aid."""
    return process.aid_seconds == 0


def eights(size: str, image_mm: tuple[float, float] | None) -> float | None:
    """Return how many 8×10 a sheet is: by its size in words ("8x10 in", "24 × 30 cm"), else by its image; or None.

    Sides without a unit are inches up to 24, else centimetres, or millimetres where the longer is over 130.
    """
    if (sides := _sides_mm(size)) is None:
        sides = image_mm
    if sides is None:
        return None
    return round(sides[0] * sides[1] / (8 * _INCH_MM * 10 * _INCH_MM), 3)


_SIZE: Final = re.compile(
    r"^\s*(\d+(?:[.,]\d+)?|\d+½)\s*[x×*]\s*(\d+(?:[.,]\d+)?|\d+½)\s*(in|inch|inches|\"|″|cm|mm)?\.?\s*$", re.IGNORECASE
)
_MM_OF: Final = {"cm": 10.0, "mm": 1.0}


def _sides_mm(size: str) -> tuple[float, float] | None:
    found = _SIZE.match(size[:40])
    if found is None:
        return None
    one, two = (float(text.replace("½", ".5").replace(",", ".")) for text in found.group(1, 2))
    if found[3]:
        unit = _MM_OF.get(found[3].lower(), _INCH_MM)
    else:
        unit = _INCH_MM if max(one, two) <= 24 else 10.0 if max(one, two) <= 130 else 1.0
    sides = one * unit, two * unit
    return sides if min(sides) >= 10 and max(sides) <= 2500 else None


def _per_litre(tray: BathName, rules: BathRules, *, aid: bool) -> tuple[float, float]:
    rule = rules.of(tray)
    if tray == "fix 2":  # it follows the first: what it has had counts once it has moved up
        return 0.0, 0.0
    if tray == "fix" and not aid and rules.fix_without_aid:
        return rule.rc, min(rule.fb or rules.fix_without_aid, rules.fix_without_aid)
    return rule.rc, rule.fb


# ---- the rules as a file

BATHS: Final = "treadle/baths/1"
_FORM: Final = VersionedForm(BATHS, BathRules)


def read_rules(text: str | bytes, name: str) -> BathRules:
    """Return how long baths last by a file. Raises `Unreadable`."""
    return versioned.read(text, name, _FORM)


def rules_of(tree: dict[str, Any], name: str, place_names: PlaceNames | None = None) -> BathRules:
    """Return how long baths last by a tree of plain values, as a page's form fills it. Raises `Unreadable`."""
    return versioned.checked(tree, name, _FORM, place_names=place_names)


def write_rules(rules: BathRules) -> str:
    """Return the file of how long baths last; `read_rules` reads the same from it."""
    return json.dumps({"format": BATHS, **rules.model_dump(mode="json")}, ensure_ascii=False, indent=2) + "\n"
