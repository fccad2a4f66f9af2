"""A typed decimal number: whatever a person may write means one number, and everything else means none."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.exposure.decimals import MOST_DIGITS, decimal_of, decimal_within, places_of, typed_text_of

NUMBERS = st.tuples(
    st.sampled_from(["", "+", "-", "−"]),
    st.sampled_from(["", " "]),
    st.text("0123456789", max_size=MOST_DIGITS),
    st.sampled_from([".", ","]),
    st.text("0123456789", max_size=MOST_DIGITS),
)


@given(NUMBERS, st.sampled_from(["", " ", "\t", " \n"]))
def test_every_way_to_write_a_number_is_read(parts: tuple[str, str, str, str, str], around: str) -> None:
    """Either sign, comma or point, digits on one side or both, and space around: the number is what the digits say."""
    sign, gap, whole, mark, part = parts
    found = decimal_of(f"{around}{sign}{gap}{whole}{mark}{part}{around}")
    if not whole and not part:
        assert found is None
        return
    size = Decimal(f"{int(whole + part)}E-{len(part)}")
    assert found == (size.copy_negate() if sign in ("-", "−") else size)
    assert places_of(found) == len(part)


@given(st.decimals(Decimal(-(10**9)), Decimal(10**9), allow_nan=False, allow_infinity=False, places=6))
def test_a_shown_number_is_read_back(value: Decimal) -> None:
    """What a page shows of a kept number, typed again, is that number."""
    assert decimal_of(typed_text_of(value)) == value


@pytest.mark.parametrize(
    "text",
    [
        *("", " ", "-", ".", ",", "nan", "NaN", "inf", "-inf", "1e3", "1E3", "1_000", "1 000", "0x10", "1.2.3"),
        *("1,2,3", "--1", "1-", "1/3", "½", "٣", "１", "10 s", "1" * (MOST_DIGITS + 1)),
    ],
)
def test_what_is_no_number_is_none(text: str) -> None:
    """Nothing, exponents, thousands marks, words, fractions, other digits and endless ones are no decimal number."""
    assert decimal_of(text) is None


@given(st.text(max_size=40))
def test_any_text_is_a_number_or_none(text: str) -> None:
    """Whatever is typed is a finite number or none; nothing is raised."""
    found = decimal_of(text)
    assert found is None or found.is_finite()


def test_limits_belong_to_the_range_and_places_are_counted() -> None:
    """Both limits are allowed, nothing past them is, and more places than asked for are none."""
    assert decimal_within("0,5", "0.5", "2") == Decimal("0.5")
    assert decimal_within("2.000", 0.5, 2) == 2
    assert decimal_within("2.001", "0.5", "2") is None
    assert decimal_within("−1,5", "-2", "0") == Decimal("-1.5")
    assert decimal_within("1.2345", "0", "2", places=3) is None
    assert decimal_within("1.234", "0", "2", places=3) == Decimal("1.234")
    assert decimal_within("much", "0", "2") is None
