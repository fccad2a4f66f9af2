"""The form of a test strip: what was typed, and the document it makes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from controller.exposure.decimals import typed_text_of
from controller.recipe.strip import STRIP, BurnTimes, EvenTimes, Rhythm, SheetTimes, StopTimes, Strip
from controller.words import say
from webui.forms.flash import FlashForm, flash_fields
from webui.forms.form import OWN, Move, Place, Tree, Typed, beside, moved, number, texts_of, without_blanks
from webui.forms.setup import (
    FILTERS,
    FINENESS,
    SETUP_PLACES,
    FilterChoice,
    LightLine,
    SetupForm,
    chosen_or_own,
    filled_lines,
    in_a_line,
    light_line,
    read_lines,
    setup_of,
)

_PLACES: Final[Mapping[str, str]] = {
    **SETUP_PLACES,
    "times.kind": "kind",
    "times.step": "step",
    "times.seconds": "step",
    "times.sheets": "bands",
    "times.centre": "centre",
    "times.base": "base",
    "times.bands": "bands",
    "pace": "pace",
    "pace.gap_seconds": "gap",
}
"""Where a key of the document has another name than its field."""


@dataclass(frozen=True)
class StripForm(FilterChoice, FlashForm, SetupForm):
    """A whole strip, as typed. `kind` is seconds, stops or burn; `fineness` a fraction or "own"."""

    title: str = ""
    filter: str = "soft"
    filter_own: str = ""
    kind: str = "stops"
    step: str = ""
    centre: str = ""
    base: str = ""
    fineness: str = "1/3"
    fineness_own: str = ""
    bands: str = "7"
    card: str = "cover"
    opal: str = ""
    none_first: str = ""
    template: str = ""
    """These two are not asked for: they come and go as they are."""
    pace: str = "press"
    gap: str = "4.0"
    under: tuple[LightLine, ...] = ()
    later: tuple[LightLine, ...] = ()
    """What the document calls "after"."""

    @property
    def step_stops(self) -> str:
        """The step in stops that was chosen or typed."""
        return self.fineness_own if self.fineness == OWN else self.fineness

    def tree(self) -> Tree:
        """Return the document that was typed, right or wrong; fields of another kind are left out."""
        tree: Tree = {
            "title": self.title,
            "filter": self.filter_name,
            "times": self._times(),
            "card": self.card,
            "template": self.template,
            "pace": {"kind": "rhythm", "gap_seconds": number(self.gap)} if self.pace == "rhythm" else self.pace,
            "flash": self.flash(),
            **({"opal": True} if self.opal and (self.template == "flash" or self.kind == "sheets") else {}),
            **self.setup(),
        }
        lines: Tree = {}
        for key, these in (("under", self.under), ("after", self.later)):
            if filled := [these[line].tree() for line in self.filled(key)]:
                lines[key] = filled
        return {"format": STRIP} | without_blanks(tree) | lines

    def sums(self) -> dict[str, str]:
        """Return what is typed into each group, in a line that stands for it while it is shut."""
        fineness = {"1/2": "coarse", "1/3": "usual", "1/6": "fine", OWN: "own"}.get(self.fineness, "own")
        fine = "" if self.kind == "seconds" else say(f"shelf.fineness-{fineness}")
        bands = say("shelf.bands-are", number=self.bands) if self.bands else ""
        known = {"card": ("cover", "uncover", "window"), "pace": ("press", "rhythm", "long")}
        card = say(f"shelf.card-way-{self.card}") if self.card in known["card"] else ""
        pace = say(f"shelf.pace-{self.pace}") if self.pace in known["pace"] else ""
        making = in_a_line(bands, fine, card, pace)
        return super().sums() | {"making": making, "flash": self.flash_sum()}

    def _times(self) -> Tree:
        bands = number(self.bands)
        match self.kind:
            case "seconds":
                return {"kind": self.kind, "step": number(self.step), "bands": bands}
            case "sheets":
                return {"kind": self.kind, "seconds": number(self.step), "sheets": bands}
            case "burn":
                return {"kind": self.kind, "base": number(self.base), "step": self.step_stops, "bands": bands}
            case _:
                first = {"none_first": True} if self.none_first else {}
                return {
                    "kind": self.kind,
                    "centre": number(self.centre),
                    "step": self.step_stops,
                    "bands": bands,
                    **first,
                }

    def names(self) -> Iterator[str]:
        """Yield the names of the inputs that this form has."""
        yield from self.inputs()
        for kind, lines in (("under", self.under), ("after", self.later)):
            for line in range(len(lines)):
                yield from LightLine.inputs(f"{kind}-{line}-")

    def texts(self) -> dict[str, str]:
        """Return what was typed into every input, by name."""
        return self.named() | texts_of("under", self.under) | texts_of("after", self.later)

    def beside(self, place: Place) -> str:
        """Return the input that a refusal at `place` belongs to; empty where it is about the whole."""
        if place[:2] == ("times", "step") and self.kind != "seconds":
            return "fineness-own" if self.fineness == OWN else "fineness"
        return beside(self.in_form(place), self.names(), _PLACES)

    def filled(self, key: str) -> tuple[int, ...]:
        """Return which lines (from 0) of the form stand in the document's list `key`: an empty one is none."""
        return filled_lines({"under": self.under, "after": self.later}.get(key, ()))

    def after(self, move: Move) -> StripForm:
        """Return the form after a line was added or taken away, or the card was turned round."""
        match move.kind:
            case "under":
                return replace(self, under=moved(self.under, move, LightLine()))
            case "after":
                return replace(self, later=moved(self.later, move, LightLine(filter="hard")))
        return self

    def turned(self) -> StripForm:
        """Return the form with the card coming from the other end: the pulses are then the other way round."""
        other = {"cover": "uncover", "uncover": "cover"}
        return replace(self, card=other.get(self.card, self.card))


def read_strip_form(typed: Typed) -> StripForm:
    """Return the strip's form as it was typed."""
    return replace(
        StripForm.read(typed),
        under=read_lines(typed, "under"),
        later=read_lines(typed, "after"),
    )


def strip_form_of(strip: Strip) -> StripForm:
    """Return the form that shows a kept strip."""
    chosen, own = chosen_or_own(strip.filter, FILTERS)
    form = StripForm(
        title=strip.title,
        filter=chosen,
        filter_own=own,
        card=strip.card,
        template=strip.template or "",
        opal="yes" if strip.opal else "",
        **flash_fields(strip.flash),
        **setup_of(strip),
        under=tuple(light_line(light.filter, light.seconds) for light in strip.under),
        later=tuple(light_line(light.filter, light.seconds) for light in strip.after),
    )
    match strip.pace:
        case Rhythm(gap_seconds=gap):
            form = replace(form, pace="rhythm", gap=typed_text_of(gap))
        case str(word):
            form = replace(form, pace=word)
    match strip.times:
        case SheetTimes(seconds=each, sheets=sheets):
            return replace(form, kind="sheets", step=typed_text_of(each), bands=str(sheets))
        case EvenTimes(step=step, bands=bands):
            return replace(form, kind="seconds", step=typed_text_of(step), bands=str(bands))
        case StopTimes(centre=centre, step=stops, bands=bands, none_first=none):
            form = replace(form, kind="stops", centre=typed_text_of(centre), bands=str(bands))
            form = replace(form, none_first="yes" if none else "")
        case BurnTimes(base=base, step=stops, bands=bands):
            form = replace(form, kind="burn", base=typed_text_of(base), bands=str(bands))
    fineness, fineness_own = chosen_or_own(str(stops).strip(), FINENESS)
    return replace(form, fineness=fineness, fineness_own=fineness_own)
