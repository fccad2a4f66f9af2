"""The part of a recipe's form for the hands: tools, what is asked for without light, and which negative is in."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final, TypeVar

from controller.exposure.decimals import typed_text_of
from controller.recipe.asks import carrier_ask, tool_called
from controller.recipe.fields import END
from controller.recipe.recipe import HandsEntry, Recipe, Tool
from controller.words import say
from webui.forms.form import Form, Move, Tree, Typed, line_numbers, moved, number, without_blanks

KINDS: Final = ("mask", "card", "hole", "dodger", "blade")
STAYING: Final = ("mask", "blade")
CARRIERS: Final = ("A", "B")
_LETTERS: Final = "MNOPQRSTUVWXYZABCDEFGHIJKL"
"""Masks are called M as a rule, so that A, B and C are left for areas."""
_TOOL: Final = "tool "
_CARRIER: Final = "carrier "
_LINE: Final = re.compile(r"(light|local)-([0-9]{1,3})")

H = TypeVar("H", bound="HandsForm")


@dataclass(frozen=True)
class ToolLine(Form):
    """One tool, as typed; its outline is drawn elsewhere and only carried along."""

    letter: str = ""
    kind: str = "mask"
    name: str = ""
    height_mm: str = ""
    outline: str = ""

    @property
    def empty(self) -> bool:
        """Nothing is typed in it: the letter that stands there by itself says nothing."""
        return not (self.name or self.height_mm or self.outline)

    def tree(self) -> Tree:
        """Return the line as the document has it."""
        tree: Tree = {"letter": self.letter, "kind": self.kind, "name": self.name, "height_mm": number(self.height_mm)}
        outline = [[number(share) for share in point.split(",")] for point in self.outline.split()]
        return without_blanks(tree) | ({"outline": outline} if outline else {})

    def called(self) -> str:
        """Return what it is called where the hands are asked for it: "mask M, sky mask"."""
        kind = say(f"recipe.tool-{self.kind}") if self.kind in KINDS else self.kind
        return say("recipe.tool-called", kind=kind, letter=self.letter, name=self.name)


@dataclass(frozen=True)
class HandsLine(Form):
    """One thing asked of the hands, as typed. `before` is a line of the form, or the end; `does` what is known."""

    before: str = END
    does: str = ""
    words: str = ""

    @property
    def empty(self) -> bool:
        """Nothing is asked for in it."""
        return not (self.does or self.words)


@dataclass(frozen=True)
class HandsForm(Form):
    """Tools and asks of a recipe, as typed."""

    tools: tuple[ToolLine, ...] = ()
    hands: tuple[HandsLine, ...] = ()

    @property
    def tool_kinds(self) -> tuple[str, ...]:
        """What the list of a tool's kinds offers."""
        return KINDS

    def hands_tree(self, lines: Iterable[str]) -> Tree:
        """Return this part of the document; `lines` are the lines of the form that are its entries, in order."""
        numbers = {line: at for at, line in enumerate(lines, 1)}
        tools = [line.tree() for line in self.tools if not line.empty]
        hands = [self._hands_tree(line, numbers) for line in self.hands if not line.empty]
        return ({"tools": tools} if tools else {}) | ({"hands": hands} if hands else {})

    def _hands_tree(self, line: HandsLine, numbers: dict[str, int]) -> Tree:
        carrier = line.does.removeprefix(_CARRIER) if line.does.startswith(_CARRIER) else ""
        tree: Tree = {"before": numbers.get(line.before, line.before), "words": line.words or self._known(line.does)}
        return without_blanks(tree | {"carrier": carrier})

    def _known(self, does: str) -> str:
        """Return the words for what was chosen from the list, so that nobody types them."""
        for carrier in CARRIERS:
            if does == f"{_CARRIER}{carrier}":
                return carrier_ask(carrier).words
        return next((tool.called() for tool in self.tools if does == f"{_TOOL}{tool.letter}"), "")

    def does(self) -> tuple[tuple[str, str], ...]:
        """Return what the list of an ask offers, with its words: own words, a carrier, a tool that stays."""
        carriers = [(f"{_CARRIER}{each}", say("page.carrier", carrier=each)) for each in CARRIERS]
        staying = [tool for tool in self.tools if tool.kind in STAYING and tool.letter and not tool.empty]
        tools = [(f"{_TOOL}{tool.letter}", tool.called()) for tool in staying]
        return (("", say("shelf.hands-own")), *carriers, *tools)

    def hands_sum(self) -> str:
        """Return what is typed here, in a line: "mask M, card C · 3 asks"."""
        tools = ", ".join(f"{tool.letter} {tool.name}".strip() for tool in self.tools if not tool.empty)
        asks = sum(not line.empty for line in self.hands)
        return " · ".join(words for words in (tools, say("shelf.hands-count", number=asks) if asks else "") if words)

    def hands_names(self) -> Iterator[str]:
        """Yield the names of the inputs of its lines."""
        for at in range(len(self.tools)):
            yield from ToolLine.inputs(f"tools-{at}-")
        for at in range(len(self.hands)):
            yield from HandsLine.inputs(f"hands-{at}-")

    def hands_after(self: H, move: Move) -> H:
        """Return the form after a line was moved: a tool's, an ask's, or one that asks stand before."""
        match move.kind:
            case "tools":
                taken = {tool.letter for tool in self.tools}
                fresh = ToolLine(letter=next((each for each in _LETTERS if each not in taken), ""))
                return replace(self, tools=moved(self.tools, move, fresh))
            case "hands":
                return replace(self, hands=moved(self.hands, move, HandsLine()))
        return replace(self, hands=tuple(replace(line, before=_now_at(line.before, move)) for line in self.hands))


def _now_at(before: str, move: Move) -> str:
    """Return which line an ask stands before once lines of a kind were moved; the next, where its own was taken away.

    The line after the last one that is there is none: a document is then refused with the ask's own field.
    """
    match = _LINE.fullmatch(before)
    if match is None or match[1] != move.kind:
        return before
    at = int(match[2])
    match move.verb:
        case "drop" if at > move.line:
            at -= 1
        case "up" if at in (move.line, move.line - 1) and move.line > 0:
            at = move.line - 1 if at == move.line else move.line
    return f"{match[1]}-{at}"


def read_tools(typed: Typed) -> tuple[ToolLine, ...]:
    """Return the lines of tools as they were typed."""
    return tuple(ToolLine.read(typed, f"tools-{at}-") for at in line_numbers(typed, "tools"))


def read_hands(typed: Typed) -> tuple[HandsLine, ...]:
    """Return the lines of what is asked of the hands as they were typed."""
    return tuple(HandsLine.read(typed, f"hands-{at}-") for at in line_numbers(typed, "hands"))


def tool_line(tool: Tool) -> ToolLine:
    """Return the line that shows a kept tool."""
    return ToolLine(
        letter=tool.letter,
        kind=tool.kind,
        name=tool.name,
        height_mm=typed_text_of(tool.height_mm),
        outline=" ".join(f"{x:f},{y:f}" for x, y in tool.outline or ()),
    )


def hands_line(recipe: Recipe, entry: HandsEntry) -> HandsLine:
    """Return the line that shows a kept ask; words that the form makes by itself are left to it."""
    before = END
    if entry.before != END:
        at, lights = int(entry.before) - 1, len(recipe.light)
        before = f"light-{at}" if at < lights else f"local-{at - lights}"
    if entry.carrier is not None:
        own = "" if entry.words == carrier_ask(entry.carrier).words else entry.words
        return HandsLine(before=before, does=f"{_CARRIER}{entry.carrier}", words=own)
    for tool in recipe.tools:
        if tool.stays and entry.words == tool_called(tool):
            return HandsLine(before=before, does=f"{_TOOL}{tool.letter}")
    return HandsLine(before=before, words=entry.words)
