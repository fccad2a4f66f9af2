"""What next: one offer, whatever the history; followed when another way is gone; never the same strip again."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.history import Pages, whole_sheet
from tools.written_files import recipe_from

from controller.negatives.next_step import CHOOSE, History, Offer, Past, past_of, what_next
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.compile_recipe import compile_any, compile_strip
from controller.recipe.compile_strip import totals_ms
from controller.recipe.pick import read_pick
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip
from controller.recipe.strip_templates import make
from controller.store.folding import fold
from controller.store.said_of_sheets import LightChange, Looked, Picked

AT = AtEnlarger(negative="n:1", paper="p1", aperture=8.0, head_height_mm=620.0, magnification=2.0, soft="00", hard="5")
SETTING: dict[str, Any] = {"lens": {"aperture": 8}, "head_height_mm": 620, "magnification": 2.0}
SPLIT = recipe_from(light=[{"filter": "soft", "seconds": 12.7}, {"filter": "hard", "seconds": 8.0}], **SETTING)


def strip_past(strip: Strip, sheet: str = "s1", band: int | None = None, recipe: str = "r", **more: Any) -> Past:
    pick = None
    if band is not None:
        found = read_pick(compile_strip(strip, source="x", version=1), band)
        told = {"filter": found.filter, "seconds": found.seconds, "stops": found.stops}
        pick = Picked(sheet=sheet, band=band, recipe=recipe, recipe_version=1 if recipe else 0, **told)
    return Past(sheet=sheet, written=strip, source="x", version=1, pick=pick, **more)


def print_past(sheet: str = "p1", version: int = 1, light: int | None = None, dark: int = 0, **more: Any) -> Past:
    looked = more.pop("looked", None)
    if light is not None:
        changed = bool(light or dark)
        looked = Looked(
            sheet=sheet,
            light=light,
            dark=dark,
            recipe="r" if changed else "",
            recipe_version=version + 1 if changed else 0,
            changes=(LightChange(filter="soft", before=12.7, after=14.0, twelfths=1.5),) if changed else (),
        )
    return Past(sheet=sheet, written=more.pop("written", SPLIT), source="r", version=version, looked=looked, **more)


def first(centre_ms: int = 12_000) -> Strip:
    return make("first", AT, centre_ms=centre_ms, step=Fraction(1, 2), bands=5)


def after(*sheets: Past, **more: Any) -> History:
    return History(at=AT, sheets=sheets, **more)


def kinds(history: History) -> list[str]:
    """Every offer in turn, each refused."""
    found = []
    while (offer := what_next(history)) != CHOOSE:
        found.append(offer.kind)
        history = history.refuse(offer)
    return found


# ---- the way of the job


def test_no_sheet_yet() -> None:
    """Nothing done: a first strip around the estimate, as fine as is known; with a probe first the readings."""
    offer = what_next(after(estimate_ms=23_400))
    assert offer.kind == "first strip"
    assert offer.strip is not None
    assert (offer.strip.filter, offer.strip.times.centre, offer.strip.times.step) == ("soft", Decimal("23.4"), "1/2")
    assert kinds(after(estimate_ms=23_400)) == ["first strip"]
    assert kinds(after(probe=True)) == ["readings", "first strip", "proof strip"]
    assert kinds(after(probe=True, measured=True)) == ["use readings", "readings", "first strip", "proof strip"]


def test_a_strip_that_is_done_is_picked_from() -> None:
    """A strip closed and not picked from: pick; refused, one that goes stop by stop, and never that strip again."""
    history = after(strip_past(first()))
    assert what_next(history) == Offer(kind="pick", sheet="s1")
    assert kinds(history) == ["pick", "wider strip"]
    wider = what_next(history.refuse(what_next(history))).strip
    assert wider is not None
    assert (wider.times.step, wider.times.bands, wider.times.centre) == ("1", 7, 12)


def test_a_soft_band_picked_leads_to_hard_over_it() -> None:
    """Soft picked: a hard strip over those very seconds, with a band of soft light alone."""
    strip = make("first", AT, centre_ms=12_700)
    offer = what_next(after(strip_past(strip, band=4)))
    assert (offer.kind, offer.strip.filter, offer.strip.template) == ("hard strip", "hard", "hard over soft")
    assert [(light.filter, light.seconds) for light in offer.strip.under] == [("soft", Decimal("12.7"))]
    assert totals_ms(offer.strip.times)[0] == 0
    assert kinds(after(strip_past(strip, band=4))) == ["hard strip", "finer strip", "look", "print"]


def test_a_hard_band_picked_leads_to_the_print() -> None:
    """Hard picked over soft: print the recipe that the pick made."""
    hard = make("hard over soft", AT, base=SPLIT.light[:1])
    history = after(strip_past(first(), band=3), strip_past(hard, "s2", band=4, recipe="r"))
    assert what_next(history) == Offer(kind="print", recipe="r", version=1)


def test_two_looks_of_a_soft_strip_lead_to_the_print() -> None:
    """Where the soft strip's shadow was told too, the pair is there already: print it, no hard strip."""
    looked = Looked(sheet="s1", light=0, dark=-2, recipe="r", recipe_version=2)
    offer = what_next(after(strip_past(first(), band=3, looked=looked)))
    assert (offer.kind, offer.recipe, offer.version) == ("print", "r", 2)


def test_one_filter_picked_leads_to_the_print() -> None:
    """A strip through any other filter has nothing to lie under: its pick is printed."""
    strip = make("first", AT, centre_ms=12_000, filter_name="2")
    assert what_next(after(strip_past(strip, band=4))).kind == "print"


def test_a_print_is_looked_at_and_then_printed_again() -> None:
    """A print closed: how did it look? A verdict: the next print with what changed, in stops."""
    assert what_next(after(print_past())) == Offer(kind="look", sheet="p1")
    offer = what_next(after(print_past(light=-1)))
    assert (offer.kind, offer.recipe, offer.version) == ("print again", "r", 2)
    assert offer.changes[0].twelfths == 1.5


def test_right_is_kept_then_burnt_then_carried() -> None:
    """Right: keep it as the recipe; then a burn strip for a part, a light each; an edition of it; then another size."""
    right = print_past(light=0)
    assert kinds(after(right)) == ["keep", "burn strip", "burn strip", "another size"]
    assert kinds(after(right, kept=(("r", 1),))) == ["burn strip", "burn strip", "edition", "another size"]


def test_what_no_pair_mends_leads_to_a_flash() -> None:
    """A verdict that no pair mends: the nearest print, and behind it a threshold strip for a flash."""
    looked = Looked(sheet="p1", light=-3, dark=3, recipe="r", recipe_version=2, why="softer")
    assert kinds(after(print_past(looked=looked)))[:2] == ["print again", "flash strip"]


def test_a_spoiled_print_is_printed_again_without_a_look() -> None:
    """A print whose lamp failed is not looked at: the same recipe again."""
    assert kinds(after(print_past(failed=True))) == ["print"]


def test_an_open_sheet_is_gone_on_with() -> None:
    """While a sheet is open it is what comes next."""
    assert what_next(after(print_past(light=0), strip_past(first(), open=True))) == Offer(kind="go on", sheet="s1")


def test_an_enlarger_that_stands_otherwise() -> None:
    """The head moved or the lens stopped down: what was printed is carried over, or a strip begun anew."""
    moved = AT.model_copy(update={"magnification": 2.75, "head_height_mm": 700.0})
    history = after(strip_past(first(), band=3), print_past(light=0)).model_copy(update={"at": moved})
    assert what_next(history) == Offer(kind="another size", recipe="r", version=1)
    assert kinds(history)[1] == "first strip"
    flash = make("flash", AT, base=SPLIT.light)
    found = what_next(after(print_past(), strip_past(flash, band=3)))
    assert (found.kind, found.recipe, found.version) == ("flash level", print_past().source, print_past().version)
    put_in = after(print_past(), strip_past(flash, band=3), flashed=("r9", 2))
    assert [what_next(put_in).kind, what_next(put_in).version] == ["print", 2]
    assert what_next(after(strip_past(flash, band=3))).kind == "first strip", "there is nothing yet to flash"


def test_a_proof_strip_gives_the_standard() -> None:
    """A picked proof strip is taken as the standard; refused, the first strip."""
    proof = make("proof", AT)
    assert kinds(after(strip_past(proof, band=4)))[:2] == ["standard", "first strip"]


# ---- whatever the history


@pytest.mark.parametrize("past", [strip_past(first()), strip_past(first(), band=3), print_past(), print_past(light=-1)])
def test_a_refusal_holds_until_the_history_grows(past: Past) -> None:
    """A refused offer is not made again; when something more has happened it may be."""
    history = after(past)
    offer = what_next(history)
    refused = history.refuse(offer)
    assert what_next(refused) != offer
    assert what_next(refused.refuse(what_next(refused))) != offer
    grown = refused.model_copy(update={"kept": (("other", 1),)})
    assert what_next(grown) == offer


@st.composite
def evenings(draw: st.DrawFn) -> History:
    """A printer who takes offers, refuses them, or goes a way of their own, some thirty times."""
    history = History(
        at=draw(st.sampled_from([AT, AtEnlarger(), AT.model_copy(update={"aperture": None})])),
        estimate_ms=draw(st.sampled_from([None, 1_000, 12_000, 200_000])),
        probe=draw(st.booleans()),
        measured=draw(st.booleans()),
    )
    for number in range(draw(st.integers(0, 8))):
        for _ in range(draw(st.integers(0, 2))):
            history = history.refuse(what_next(history))
        offer = what_next(history)
        own = draw(st.sampled_from(["strip", "print", "offer", "offer", "offer"]))
        last = history.sheets[-1] if history.sheets else None
        if own == "offer" and offer.kind in ("pick", "look", "go on") and last is not None:
            history = history.model_copy(update={"sheets": (*history.sheets[:-1], _answered(draw, last))})
        elif own == "offer" and offer.kind == "keep":
            history = history.model_copy(update={"kept": (*history.kept, (offer.recipe, offer.version))})
        else:
            made = offer.strip if own == "offer" and offer.strip is not None else None
            history = history.model_copy(update={"sheets": (*history.sheets, _new(draw, number, own, made))})
    return history


def _new(draw: st.DrawFn, number: int, own: str, made: Strip | None) -> Past:
    state = {"open": draw(st.integers(0, 4)) == 0, "failed": draw(st.integers(0, 5)) == 0}
    if made is None and own == "strip":
        template = draw(st.sampled_from(["first", "hard over soft", "burn", "flash", "proof"]))
        made = make(template, AT, centre_ms=None if template == "flash" else 9_000, base=SPLIT.light[:1])
    if made is not None:
        return Past(sheet=f"s{number}", written=made, source=f"x{number}", version=1, **state)
    return print_past(f"p{number}", version=draw(st.integers(1, 3)), **state)


def _answered(draw: st.DrawFn, last: Past) -> Past:
    if last.open:
        return last.model_copy(update={"open": False})
    if isinstance(last.written, Recipe):
        return print_past(last.sheet, last.version, light=draw(st.integers(-3, 3)), dark=draw(st.integers(-3, 3)))
    bands = last.written.times.bands
    return strip_past(last.written, last.sheet, draw(st.integers(1, bands)), draw(st.sampled_from(["", "r"])))


def _light_of(strip: Strip) -> tuple[Any, ...]:
    """What a strip gives, and how the enlarger stands for it."""
    stand = strip.lens, strip.head_height_mm, strip.magnification
    return strip.filter, totals_ms(strip.times), strip.card, strip.under, strip.after, *stand


@settings(max_examples=150, deadline=None)
@given(evenings())
def test_whatever_the_history_exactly_one_offer(history: History) -> None:
    """Whatever was done: one offer, the same when asked again; no strip that was made; every one can be refused.

    Refused one after another, none comes back, and in the end the printer chooses.
    """
    closed = [past.written for past in history.sheets if isinstance(past.written, Strip) and not past.open]
    same = [_light_of(each) for each in closed]
    seen: list[Offer] = []
    while True:
        offer = what_next(history)
        assert isinstance(offer, Offer)
        assert what_next(history) == offer
        assert offer not in seen
        if offer.strip is not None:
            strip = offer.strip
            assert _light_of(strip) not in same
            assert compile_strip(strip, source="x", version=1).steps
        if offer.kind in ("print", "print again", "keep", "another size"):
            assert offer.recipe
        if offer == CHOOSE:
            break
        seen.append(offer)
        history = history.refuse(offer)
        assert len(seen) < 12
    assert history.refuse(CHOOSE) == history


def test_a_record_is_read_as_a_past() -> None:
    """A sheet's record with what it was made by is all that is wanted of it."""
    plan = compile_any(SPLIT, source="r", version=3)
    pages = Pages()
    pages.write(*whole_sheet("s", 1, plan), Looked(sheet="s", light=1, dark=0))
    (record,) = fold(pages.rows)
    past = past_of(record, SPLIT)
    assert (past.sheet, past.source, past.version, past.open, past.failed) == ("s", "r", 3, False, False)
    assert past.looked is not None
    assert past.looked.light == 1
    spoiled = record.model_copy(update={"outcome": "spoiled"})
    assert past_of(spoiled, SPLIT).failed


def test_a_test_that_is_due_is_offered_where_nothing_else_is() -> None:
    """Last of all, and only where it is due; refused, it waits until more has happened."""
    for sheets in ((), (print_past(light=0),), (strip_past(first(), band=3),)):
        offers = kinds(after(*sheets))
        assert "test" not in offers
        assert kinds(after(*sheets, due=True)) == [*offers, "test"]
