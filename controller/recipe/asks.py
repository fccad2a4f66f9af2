"""What is asked of the printer between the lights of a sheet: hands, carriers, tools that stay; pure.

A tool that stays by itself (a mask, a blade) is in from the entry for the hands that names it until the next one that
does, and while its own area has light. What is in and not wanted any more is asked out, at the sheet's end too.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, Literal

from controller.recipe.fields import END
from controller.recipe.plan import Ask
from controller.recipe.recipe import Base, Carrier, HandsEntry, Recipe, Tool
from controller.words import say

_OTHER: Final[dict[Carrier, Carrier]] = {"A": "B", "B": "A"}
_FEW_WORDS: Final = 2
"""In so few, a letter by itself is a tool's: "M in"."""


class Asks:
    """Goes along with the lights of a recipe as they are put down, and knows what is in at each."""

    def __init__(self, recipe: Recipe) -> None:
        self._recipe = recipe
        self._carrier: Carrier | Literal[""] = ""
        self._first = _first_carrier(recipe)
        self._asked_in: list[str] = []
        """Letters of what the hands put in, and not out again."""
        self._of_area: list[str] = []
        """Letters of what is in for an area's light alone."""

    def before(
        self, numbers: Sequence[int], carrier: Carrier | None, areas: Sequence[str], *, laid: bool, back: bool
    ) -> dict[str, Any]:
        """Return what a step says of the asks before it and of what is in its light.

        `numbers` are the entries whose first light it is, `carrier` is the one that it needs (None: whichever is in),
        `areas` are those it is for. `laid`: a tool can be laid down before it, since it stays for the whole light.
        `back`: a negative that was taken out is asked back before it, and then is the right one.
        """
        wanted = carrier or (None if self._carrier else self._first)
        of_area = [tool.letter for tool in self._recipe.tools if laid and tool.stays and tool.letter in areas]
        asks = [self._tool(letter, out=True) for letter in self._of_area if letter not in of_area]
        self._of_area = [letter for letter in self._of_area if letter in of_area]
        for number in numbers:
            asks += self._entries(number)
        if wanted and wanted != self._carrier:
            self._carrier = wanted
            asks += [] if back else [carrier_ask(wanted)]
        new = [letter for letter in of_area if letter not in (*self._of_area, *self._asked_in)]
        asks += [self._tool(letter, out=False) for letter in new]
        self._of_area = [letter for letter in of_area if letter not in self._asked_in]
        in_place = self._in_order([*self._asked_in, *self._of_area])
        held = [tool.letter for tool in self._recipe.tools if not tool.stays and tool.letter in areas]
        return {
            "asks": tuple(asks),
            "carrier": self._carrier,
            "in_place": in_place,
            "tools": self._in_order([*in_place, *held]),
        }

    def at_end(self) -> tuple[Ask, ...]:
        """Return what is asked after the last light: the recipe's own, then every tool out that is still in."""
        asks = [self._tool(letter, out=True) for letter in self._of_area]
        self._of_area = []
        asks += self._entries(END)
        return (*asks, *(self._tool(letter, out=True) for letter in self._asked_in))

    def _entries(self, number: int | str) -> Iterator[Ask]:
        for entry in self._recipe.hands:
            if entry.before == number:
                yield self._entry(entry)

    def _entry(self, entry: HandsEntry) -> Ask:
        letters = [tool.letter for tool in tools_named(entry, self._recipe.tools)]
        takes = tuple(letter for letter in letters if letter in self._asked_in)
        stay = [letter for letter in letters if letter not in takes]  # one that is in for its area's light stays in
        brings = tuple(letter for letter in stay if letter not in self._of_area)
        self._asked_in = [letter for letter in self._asked_in if letter not in takes] + stay
        self._carrier = entry.carrier or self._carrier
        moves = bool(brings or takes)
        kind: Literal["carrier", "tool", "hands"] = "carrier" if entry.carrier else "tool" if moves else "hands"
        return Ask(words=entry.words, carrier=entry.carrier or "", kind=kind, brings=brings, takes=takes)

    def _tool(self, letter: str, *, out: bool) -> Ask:
        return tool_ask(next(tool for tool in self._recipe.tools if tool.letter == letter), out=out)

    def _in_order(self, letters: Sequence[str]) -> tuple[str, ...]:
        return tuple(tool.letter for tool in self._recipe.tools if tool.letter in letters)


def carrier_ask(carrier: Carrier) -> Ask:
    """Return what is asked where a carrier is changed for the other and nobody wrote it in words of their own."""
    return Ask(words=say("recipe.ask-carrier", carrier=carrier), carrier=carrier, kind="carrier")


def tool_ask(tool: Tool, *, out: bool) -> Ask:
    """Return what is asked where a tool that stays is put in its place, or taken out."""
    words = say(f"recipe.ask-tool-{'out' if out else 'in'}", tool=tool_called(tool))
    return Ask(words=words, kind="tool", brings=() if out else (tool.letter,), takes=(tool.letter,) if out else ())


def tool_called(tool: Tool) -> str:
    """Return what a tool is called with everything that tells it from others: "mask M, sky"."""
    return say("recipe.tool-called", kind=say(f"recipe.tool-{tool.kind}"), letter=tool.letter, name=tool.name)


def tools_named(entry: HandsEntry, tools: Sequence[Tool]) -> tuple[Tool, ...]:
    """Return the tools that stay by themselves which an entry for the hands names, in the recipe's order.

    By their names; by their letters beside the word for the kind, or in two words at most; by that word alone where
    there is one such tool only.
    """
    staying = [tool for tool in tools if tool.stays]
    found = [tool for tool in staying if _has(entry.words.casefold(), tool.name.casefold())]
    found += [tool for tool in staying if tool not in found and not entry.carrier and _by_letter(entry.words, tool)]
    kinds = {tool.kind for tool in found}
    for kind in sorted({tool.kind for tool in staying} - kinds):
        (first, *others) = [tool for tool in staying if tool.kind == kind]
        if not others and any(_has(entry.words.casefold(), word) for word in _kind_words(first)):
            found.append(first)
    return tuple(tool for tool in staying if tool in found)


def _kind_words(tool: Tool) -> tuple[str, ...]:
    return (tool.kind, say(f"recipe.tool-{tool.kind}").casefold())


def _by_letter(words: str, tool: Tool) -> bool:
    if len(words.split()) <= _FEW_WORDS and _has(words, tool.letter):
        return True
    kinds = "|".join(re.escape(word) for word in _kind_words(tool))
    letter = re.escape(tool.letter)
    return re.search(rf"(?<!\w)(?:(?i:{kinds})\s+{letter}|{letter}\s+(?i:{kinds}))(?!\w)", words) is not None


def _has(text: str, words: str) -> bool:
    return re.search(rf"(?<!\w){re.escape(words)}(?!\w)", text) is not None


def _first_carrier(recipe: Recipe) -> Carrier | None:
    """Return the carrier that a sheet begins with where its first light names none: the one that is not named first."""
    for number, light in enumerate(recipe.light, 1):
        if named := recipe.carrier_before(number) or light.carrier:
            return named if number == 1 else _OTHER[named]
    for number in range(len(recipe.light) + 1, len(recipe.light) + len(recipe.local) + 1):
        if named := recipe.carrier_before(number):
            return _OTHER[named]
    return None


def hands_moved(recipe: Recipe, light: Sequence[int | None], local: Sequence[int | None]) -> tuple[HandsEntry, ...]:
    """Return what is asked of the hands once a recipe has other lines: before the same ones as it was.

    `light` and `local` say which line (from 0) each of the new ones was; None is a line that is new. What was asked
    before a line that is now several is asked before each; before one that is there no more, before the next that is.
    """
    old = [*light, *(None if at is None else len(recipe.light) + at for at in local)]
    return tuple(
        entry.model_copy(update={"before": before}) for entry in recipe.hands for before in _now_before(entry, old)
    )


def _now_before(entry: HandsEntry, old: Sequence[int | None]) -> list[int | str]:
    if entry.before == END:
        return [END]
    later = sorted({at for at in old if at is not None and at >= int(entry.before) - 1})
    return [number for number, at in enumerate(old, 1) if at == later[0]] if later else [END]


def with_lights(recipe: Recipe, light: Sequence[Base], was: Mapping[str, str] | None = None) -> Recipe:
    """Return a recipe with other bases, told apart by their filters; what is asked of the hands goes along.

    `was` gives the filter that a base was through before, by the one it is through now, where that was another.
    """
    old = {each.filter: at for at, each in enumerate(recipe.light)}
    names = [(was or {}).get(each.filter, each.filter) for each in light]
    hands = hands_moved(recipe, [old.get(name) for name in names], range(len(recipe.local)))
    return recipe.model_copy(update={"light": tuple(light)} | ({"hands": hands} if hands else {}))
