"""An edition's ledger: its form, what it refuses and how, and that a number is given once whatever is done."""

from __future__ import annotations

import copy
import json
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.backup.registered import THINGS, read_thing
from controller.editions.cost import Box, Used, cost_of, left
from controller.editions.ledger import (
    EDITION,
    Edition,
    Given,
    Ledger,
    Outcome,
    ledger_of,
    read_edition,
    roman,
    told,
    write_edition,
)
from controller.errors import Impossible, Unreadable
from controller.store.edition_rows import BoxCounted

TREE: dict[str, Any] = {
    "format": EDITION,
    "recipe": "crane",
    "version": 3,
    "size": 5,
    "proofs": 2,
    "sheets": [
        {"sheet": "s1", "outcome": "keep", "number": 1, "spread_stops": 0.0},
        {"sheet": "s2", "outcome": "reject", "number": None, "spread_stops": -1.25},
        {"sheet": "s3", "outcome": "proof", "number": 1, "spread_stops": 0.042},
        {"sheet": "", "outcome": "keep", "number": 4, "spread_stops": None},
    ],
}


def edition(size: int = 5, proofs: int = 2, sheets: tuple[Given, ...] = ()) -> Edition:
    return Edition(recipe="crane", version=3, size=size, proofs=proofs, sheets=sheets)


def read(tree: object) -> Edition:
    return read_edition(json.dumps(tree), "five.json")


def test_a_file_is_read_and_written_the_same() -> None:
    """The form of `treadle/edition/1` with its five keys is taken as it is, and comes back with all that it said."""
    found = read(TREE)
    assert (found.recipe, found.version, found.size, found.proofs) == ("crane", 3, 5, 2)
    assert [one.number for one in found.sheets] == [1, None, 1, 4]
    again = write_edition(found)
    assert read_edition(again, "again") == found
    assert json.loads(again) == TREE
    named = found.model_copy(update={"title": "Crane", "reference": "s1", "chemistry": Decimal("4.20")})
    assert read_edition(write_edition(named), "named") == named
    assert read_thing(write_edition(named), "five.json")[1] == "Crane"
    assert read_thing(again, "five.json")[1] == "Edition of crane"
    assert THINGS["edition"].words(write_edition(named)) == "Crane"


@pytest.mark.parametrize(
    ("place", "value", "told_of"),
    [
        (("size",), 3, "number.* is 4, and this edition has numbers up to 3"),
        (("size",), 0, "size"),
        (("size",), 2.5, "size"),
        (("size",), "five", "size"),
        (("size",), True, "size"),
        (("proofs",), 0, "is 1, and this edition has numbers up to 0"),
        (("proofs",), -1, "proofs"),
        (("version",), 0, "version"),
        (("recipe",), "", "recipe"),
        (("sheets", 3, "number"), 1, "given already"),
        (("sheets", 2, "sheet"), "s1", "stands here already"),
        (("sheets", 1, "number"), 2, "must be there for what is kept"),
        (("sheets", 0, "number"), None, "must be there for what is kept"),
        (("sheets", 1, "sheet"), "", "must name the sheet"),
        (("sheets", 0, "outcome"), "sold", "outcome"),
        (("sheets", 0, "spread_stops"), "much", "spread_stops"),
        (("sheets", 0, "number"), float("nan"), "number"),
        (("sheets", 0, "spread_stops"), float("inf"), "spread_stops"),
        (("sheets", 0, "sheet"), "../x", "sheet"),
        (("chemistry",), -1, "chemistry"),
        (("price",), 3, "price"),
        (("format",), "treadle/edition/2", "newer"),
    ],
)
def test_what_is_wrong_in_a_file_is_named(place: tuple[str | int, ...], value: object, told_of: str) -> None:
    """Every refusal names the file and what is wrong in it, and reads as a sentence."""
    tree: Any = copy.deepcopy(TREE)
    at = tree
    for part in place[:-1]:
        at = at[part]
    at[place[-1]] = value
    with pytest.raises(Unreadable, match=told_of) as found:
        read(tree)
    assert "five.json" in str(found.value)
    assert str(found.value).endswith(".")


def test_a_number_is_given_in_turn_and_the_sixth_of_five_is_refused() -> None:
    """Keeps count from 1, proofs by themselves in Roman; a reject has none; full is said with what can be done."""
    ledger = Ledger(edition=edition())
    for number in range(1, 6):
        one = ledger.give(f"s{number}", "keep", number, 0.0)
        ledger = ledger_of(ledger.edition, ledger.given, [one])
    assert [told(ledger.edition, one) for one in ledger.given] == ["1/5", "2/5", "3/5", "4/5", "5/5"]
    with pytest.raises(Impossible, match="All 5 numbers"):
        ledger.give("s6", "keep", 6, 0.0)
    with pytest.raises(Impossible, match="is 2/5 already"):
        ledger.give("s2", "reject", 0, 0.0)
    proof = ledger.give("s6", "proof", 1, 0.0)
    assert told(ledger.edition, proof) == "proof I"
    rejected = ledger.give("s7", "reject", 0, None)
    assert (rejected.number, told(ledger.edition, rejected)) == (None, "rejected")
    ledger = ledger_of(ledger.edition, ledger.given, [proof, rejected])
    assert [one.sheet for one in ledger.rejected] == ["s7"]
    with pytest.raises(Impossible, match="is rejected already"):
        ledger.give("s7", "keep", 1, 0.0)


def test_what_was_seen_is_what_is_given() -> None:
    """A number that went to another print since the page was looked at is refused, not moved up by one."""
    ledger = ledger_of(edition(), [Given(sheet="s1", outcome="keep", number=1)])
    with pytest.raises(Impossible, match="is given, or this edition does not have it"):
        ledger.give("s2", "keep", 1, 0.0)
    with pytest.raises(Impossible, match="is given"):
        ledger.give("s2", "keep", 3, 0.0)
    assert ledger.give("s2", "keep", 2, 0.0).number == 2


def test_an_edition_keeps_its_size_once_something_is_given() -> None:
    """Before the first number both sizes may change; then neither, and never below what is given."""
    Ledger(edition=edition()).may_become(10, 0)
    ledger = ledger_of(edition(), [Given(sheet="s1", outcome="keep", number=3)])
    ledger.may_become(5, 2)
    with pytest.raises(Impossible, match="Number 3 and 0 proofs are given"):
        ledger.may_become(2, 2)
    for size, proofs in ((4, 2), (6, 2), (5, 3)):
        with pytest.raises(Impossible, match="stays that size"):
            ledger.may_become(size, proofs)


def test_a_number_that_is_out_may_be_found_on_its_print() -> None:
    """A number on a print nobody here knew is no free one; it may be said to stand on a sheet, once."""
    ledger = ledger_of(edition(), [Given(sheet="", outcome="keep", number=1)])
    assert (ledger.next("keep"), ledger.without_sheet("keep")) == (2, (1,))
    found = ledger.give("s1", "keep", 1, 0.0)
    ledger = ledger_of(ledger.edition, ledger.given, [found])
    assert [(one.sheet, one.number) for one in ledger.given] == [("s1", 1)]
    with pytest.raises(Impossible, match="is given"):
        ledger.give("s2", "keep", 1, 0.0)


def test_two_darkrooms_that_gave_one_number_are_both_believed() -> None:
    """Nothing is renumbered: both prints stand at the number, which is said, and the number is not free."""
    ledger = ledger_of(
        edition(), [Given(sheet="s1", outcome="keep", number=1)], [Given(sheet="s9", outcome="keep", number=1)]
    )
    assert ledger.twice == (("keep", 1),)
    assert ledger.next("keep") == 2


GIVEN = st.builds(
    lambda sheet, outcome, number: Given(sheet=sheet, outcome=outcome, number=None if outcome == "reject" else number),
    st.sampled_from([f"s{number}" for number in range(8)]),
    st.sampled_from(["keep", "proof", "reject"]),
    st.integers(1, 5),
)
ASKS = st.lists(st.tuples(st.integers(0, 9), st.sampled_from(["keep", "proof", "reject"]), st.integers(0, 6)))


@given(asks=ASKS, old=st.lists(GIVEN, max_size=4), cut=st.integers(0, 30))
@settings(deadline=None)
def test_no_number_is_given_twice_whatever_is_asked_or_lost(
    asks: list[tuple[int, Outcome, int]], old: list[Given], cut: int
) -> None:
    """Asked anything in any order, and with some of the journal gone but noted, every number stands on one print."""
    start = ledger_of(edition(), old)
    ledger, filed = start, list[Given]()
    for sheet, outcome, number in asks:
        try:
            filed.append(ledger.give(f"n{sheet}", outcome, number, 0.0))
        except Impossible:
            continue
        ledger = ledger_of(ledger.edition, start.given, filed[:cut], filed)
        assert ledger == ledger_of(ledger.edition, ledger.given, start.given, filed)
    new = [(one.outcome, one.number) for one in filed if one.number]
    assert len(new) == len(set(new))
    assert len({one.sheet for one in filed}) == len(filed)
    assert not {(one.outcome, one.number) for one in start.given} & set(new)
    assert set(start.twice) == set(ledger.twice)


def test_proofs_are_numbered_as_the_romans_did() -> None:
    """Source of the ten: the usual subtractive numerals of any dictionary."""
    numerals = {1: "I", 2: "II", 3: "III", 4: "IV", 5: "V", 9: "IX", 14: "XIV", 40: "XL", 49: "XLIX", 50: "L"}
    assert {number: roman(number) for number in numerals} == numerals


def test_a_print_costs_its_paper_and_its_share_of_the_chemistry() -> None:
    """By hand: 8 sheets at 1.25 and 3 at 0.80 are 12.40; with 4.20 of chemistry 16.60, over 5 prints 3.32 each."""
    fine, plain = Box(paper="p", box="A"), Box(paper="p", box="B")
    used = [Used(box=fine, price=Decimal("1.25"))] * 8 + [Used(box=plain, price=Decimal("0.80"))] * 3
    found = cost_of(used, 5, Decimal("4.20"))
    assert (found.sheets, found.paper, found.a_print) == (11, Decimal("12.40"), Decimal("3.32"))
    assert cost_of(used, 0, None).a_print is None
    lacks = cost_of([*used, Used(box=Box(paper="p", box="C")), Used(box=None)], 5, None)
    assert (lacks.paper, lacks.a_print, lacks.unpriced) == (None, None, ("C", ""))
    assert cost_of(used, 3, None).a_print == Decimal("4.13")  # 12.40 / 3 = 4.133…


def test_a_box_is_counted_down_and_never_below_none() -> None:
    """25 sheets less 7 closed ones are 18; more closed than were counted leave none."""
    count = BoxCounted(paper="p", paper_title="paper one", box="A", sheets=25)
    assert [left(count, closed) for closed in (0, 7, 25, 26)] == [25, 18, 0, 0]
