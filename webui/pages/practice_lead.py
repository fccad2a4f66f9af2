"""What to do now in the practice darkroom, and what of it is touched: from the loading of a sheet to its print."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

from controller.errors import ControllerError
from controller.practice.wet import Wet, wet_print
from controller.words import has, say
from webui.frame.context import leads_on
from webui.frame.trays import tray_words
from webui.pictures.print_views import print_bands

if TYPE_CHECKING:
    from collections.abc import Iterator

    from jinja2 import Environment
    from markupsafe import Markup

    from controller.daemon.desk import Desk
    from controller.foot.status import Status
    from controller.practice.printed import Print
    from controller.practice.prints import PracticePrints
    from controller.practice.switches import PracticeView
    from controller.recipe.pick import PickMeaning
    from controller.store.records import SheetRecord
    from controller.store.sessions import SheetLine
    from webui.frame.practice_sight import PaintLead

Touch = Literal["phone", "drawer", "pedal", "hold", "trays", "print", ""]
"""What is touched next; empty where one waits or looks."""
WAITING: Final = 3
"""So many of the last closed sheets wait by the trays."""
HUNG: Final = 3
"""So many of the last prints hang on the line."""
_LOOKED_BACK: Final = 9
"""Sheets that are looked through for them."""
_PRESSED: Final = frozenset({"ready", "held", "set-up asked", "hands asked", "open after a restart", "focus light"})
_WAITED: Final = frozenset({"lead-in", "light", "gap", "settling", "white-light warning"})
_HELD: Final = frozenset({"finished", "close this sheet?", "call it given?", "white light?"})


@dataclass(frozen=True, slots=True)
class Choice:
    """One band of a developed strip, or the line between it and the next, and what it would mean to take it."""

    band: int
    between: bool
    meaning: PickMeaning

    @property
    def mark(self) -> str:
        """How it is called in an address."""
        return f"{self.band}{'-between' if self.between else ''}"


@dataclass(frozen=True, slots=True)
class Shown:
    """The print that is being looked at."""

    record: SheetRecord
    made: Print
    bands: Markup | None
    choices: tuple[Choice, ...]
    leads_on: bool = False
    """Whether a pick leads on to what is next for the negative, which need not be its print."""


@dataclass(frozen=True, slots=True)
class Lead:
    """What to do now."""

    words: str
    touch: Touch
    filter: str = ""
    """The one to be put into the drawer; empty where the right one is in, or none is asked for."""
    then: str = ""
    """What else may be done."""
    closed: SheetLine | None = None
    """The sheet that was closed last and is not developed."""
    waiting: tuple[SheetLine, ...] = ()
    """Others that wait by the trays, newest first."""
    shown: Shown | None = None
    wet: tuple[Wet, ...] = ()
    """The prints in the trays, as they are seen."""
    hung: tuple[str, ...] | None = None
    """The sheets whose prints hang on the line, newest first; None where they are not looked for."""

    @property
    def wet_told(self) -> list[dict[str, object]]:
        """The prints in the trays, as a page's script takes them."""
        return [each.model_dump(mode="json", exclude_none=True) for each in self.wet]


def lead_of(of: Desk, status: Status, view: PracticeView, tray: PracticePrints | None) -> Lead:
    """Return what to do now at `status`."""
    wet = tuple(_wet(of, status, tray)) if tray is not None and status.prints else ()
    if tray is None or status.open or status.stop_possible:
        return replace(_standing(status, view, ()), wet=wet)
    waiting, hung = _looked_through(of, status, tray)
    return replace(_idle(of, status, view, tray, waiting), hung=hung, wet=wet)


def _wet(of: Desk, status: Status, tray: PracticePrints) -> Iterator[Wet]:
    """Give the prints in the trays, one to a tray, the newest last."""
    shown = of.sheets(least=_LOOKED_BACK + 1, most=_LOOKED_BACK + 1).sessions
    ids = {sheet.number: sheet.id for session in shown for sheet in session.sheets}
    for each in status.prints:
        if (sheet := ids.get(each.number)) is not None:
            seen = wet_print(sheet, each, of.record(sheet).trays, tray.scene(), status.hurry, of.now_ns())
            if seen is not None:
                yield seen


def _idle(of: Desk, status: Status, view: PracticeView, tray: PracticePrints, waiting: tuple[SheetLine, ...]) -> Lead:
    """Return what to do while no sheet is under way: the last one and its print come first."""
    if (sheet := tray.looked_at()) and (made := tray.made(sheet)) is not None:
        return _looking(of, status, sheet, made)
    last = waiting[0] if waiting else None
    undone = next((each for each in reversed(status.prints) if not each.in_fix), None)
    if undone is not None:
        words = undone.ask or say("practice.now-in-the-trays", number=undone.number, tray=tray_words(undone.tray))
        then = "" if undone.ask else _or_the_next(status)
        return Lead(words, "pedal" if undone.ask else "", then=then, waiting=waiting)
    if last is not None and _has_just_closed(of, last, status):
        return Lead(
            words=say("practice.now-closed", number=last.number),
            touch="trays",
            then=_or_the_next(status),
            closed=last,
            waiting=waiting[1:],
        )
    return _standing(status, view, waiting)


def _or_the_next(status: Status) -> str:
    """Return what may be done with the next sheet meanwhile; where its light has to wait, that alone is said."""
    waits = status.headline == say("trays.place-wait")
    return status.headline if waits else say("practice.now-or", words=status.headline)


def painted_lead(of: Desk, words: Environment) -> PaintLead:
    """Return what paints it for `status` as a page takes it in; the last argument is the signature of its forms."""

    def paint(status: Status, view: PracticeView, sign: Markup) -> str:
        practice = of.practice()
        lead = lead_of(of, status, view, practice.prints() if practice else None)
        return words.get_template("practice_lead.html").render(lead=lead, sign=sign)

    return paint


def _standing(status: Status, view: PracticeView, waiting: tuple[SheetLine, ...]) -> Lead:
    """Return what is asked at the enlarger."""
    place = status.place
    if place == "nothing chosen":
        return Lead(say("practice.now-choose"), "phone", waiting=waiting)
    if place == "change filter" and status.filter_wanted:
        if view.filter_in_drawer != status.filter_wanted:
            return Lead(
                say("practice.now-filter", filter=status.filter_wanted), "drawer", status.filter_wanted, waiting=waiting
            )
        return Lead(say("practice.now-filter-in"), "pedal", waiting=waiting)
    touch: Touch = "pedal" if place in _PRESSED else "hold" if place in _HELD else ""
    key = f"practice.now-{place.rstrip('?').replace(' ', '-')}"
    own = place == "hands asked" and status.next is None  # a test's card is asked for in its own words
    words = say(key) if has(key) and not own else status.headline
    if place == "ready" and status.plan is not None and status.plan.strip is not None and status.next is not None:
        words = say("practice.now-band", band=status.next.number, of=status.next.of)
    elif place == "ready" and status.next is not None:
        words = say("practice.now-step", number=status.next.number, of=status.next.of, name=status.next.name)
    return Lead(words, touch, waiting=waiting if place not in _WAITED else ())


def _looked_through(of: Desk, status: Status, tray: PracticePrints) -> tuple[tuple[SheetLine, ...], tuple[str, ...]]:
    """Return the last closed sheets whose prints may be looked at and were not, and those that were; newest first."""
    undone = {each.number for each in status.prints if not each.in_fix}
    shown = of.sheets(least=_LOOKED_BACK + 1, most=_LOOKED_BACK + 1).sessions
    lines = [sheet for session in shown for sheet in reversed(session.sheets) if _goes_into_the_trays(sheet)]
    waiting: list[SheetLine] = []
    hung: list[SheetLine] = []
    for sheet in lines[:_LOOKED_BACK]:
        if sheet.number in undone:
            continue
        try:
            (waiting if tray.made(sheet.id) is None else hung).append(sheet)
        except ControllerError:
            continue  # its print is there and cannot be read: its own page says so
    return tuple(waiting[:WAITING]), tuple(sheet.id for sheet in hung[:HUNG])


def _goes_into_the_trays(sheet: SheetLine) -> bool:
    """Tell whether a sheet is closed, and a print or strip: one that was flashed beforehand waits for its print."""
    return sheet.outcome != "open" and sheet.kind != "flashed"


def _has_just_closed(of: Desk, last: SheetLine, status: Status) -> bool:
    """Tell whether nothing else was begun or loaded since a sheet was closed."""
    if status.plan is None:
        return bool(status.just_given)
    newest = next(iter(of.sheets(least=1, most=1).sessions), None)
    plan = of.record(last.id).plan
    is_newest = newest is not None and newest.sheets[-1].id == last.id
    return is_newest and (plan.source, plan.version) == (status.plan.source, status.plan.version)


def _looking(of: Desk, status: Status, sheet: str, made: Print) -> Lead:
    """Return what may be done with a print that is being looked at."""
    record = of.record(sheet)
    strip = record.plan.strip
    if strip is None or not made.bands:
        return Lead(say("practice.now-print"), "print", shown=Shown(record, made, None, ()))
    choices = tuple(
        Choice(band, between, of.recipes().meaning(record, band, between=between))
        for band in range(1, len(strip.totals_ms) + 1)
        for between in (False, True)
        if band + between <= len(strip.totals_ms)
    )
    bands = print_bands(made, strip, lambda band: f"#pick-{band}", None)
    return Lead(say("practice.now-tap"), "print", shown=Shown(record, made, bands, choices, leads_on(record, status)))
