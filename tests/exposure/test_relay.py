"""Relay and lamp: the ten-times rule, and the table in the documents."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.exposure.reckon import reckoned_amps, strong_enough

PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "relay-and-lamp.md"
amounts = st.integers(1, 2000).map(Fraction)


def test_the_rule_s_own_cases() -> None:
    """On 10 A contacts 150 W pass at 230 V (reckoned as 6.52 A) and fail at 120 V (12.5 A).

    Source: Omron, *Load types and ratings*, the ten-times rule (seen); the two cases are derived from it.
    """
    assert float(reckoned_amps(Fraction(150), Fraction(230))) == pytest.approx(6.52, abs=0.005)
    assert strong_enough(Fraction(150), Fraction(230), Fraction(10))
    assert reckoned_amps(Fraction(150), Fraction(120)) == Fraction("12.5")
    assert not strong_enough(Fraction(150), Fraction(120), Fraction(10))


@given(amounts, amounts, amounts)
def test_a_stronger_lamp_never_wants_weaker_contacts(watts: Fraction, volts: Fraction, amps: Fraction) -> None:
    """What is strong enough for a lamp is so for every weaker one, at every higher voltage; at the limit it is not."""
    if strong_enough(watts, volts, amps):
        assert strong_enough(watts / 2, volts, amps)
        assert strong_enough(watts, volts * 2, amps)
    assert not strong_enough(watts, volts, reckoned_amps(watts, volts))


def test_the_table_in_the_documents_is_the_rule_s() -> None:
    """Every row of relay-and-lamp.md has the currents and verdicts of the rule: by fifteen, just by ten, or not."""
    rows = re.findall(
        r"^\| (\d+) W, (\d+) V \| ([\d.]+) A \| ([\d.]+) A \| ([\d.]+) A \| (\w+) \| (\w+) \| (\w+) \|$",
        PAGE.read_text(encoding="utf-8"),
        re.MULTILINE,
    )
    assert len(rows) >= 12
    for watts, volts, steady, ten, fifteen, *verdicts in rows:
        lamp = Fraction(watts), Fraction(volts)
        ten_times = reckoned_amps(*lamp)
        assert float(steady) == pytest.approx(float(ten_times) / 10, abs=0.0051)
        assert float(ten) == pytest.approx(float(ten_times), abs=0.051)
        assert float(fifteen) == pytest.approx(float(ten_times) * 1.5, abs=0.051)
        for amps, verdict in zip((5, 10, 16), verdicts, strict=True):
            just = "just" if strong_enough(*lamp, Fraction(amps)) else "no"
            assert verdict == ("yes" if ten_times * Fraction("1.5") < amps else just)
