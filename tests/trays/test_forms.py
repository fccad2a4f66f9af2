"""Processes and rules for baths as files: written and read the same; what is wrong is told with its key."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.errors import Unreadable
from controller.trays.ledger import BathRules, read_rules, write_rules
from controller.trays.process import USUAL, Support, read_process, write_process


@pytest.mark.parametrize("support", ["RC", "FB"])
def test_a_process_is_read_as_it_was_written(support: Support) -> None:
    """The usual ones, and one with a factor and notes."""
    for one in (USUAL[support], USUAL[support].model_copy(update={"factor": 8.5, "notes": "1 + 9"})):
        assert read_process(write_process(one), "a file") == one
    assert json.loads(write_process(USUAL[support]))["format"] == "treadle/process/1"


@given(st.floats(10, 900), st.floats(0, 60), st.floats(30, 1200), st.none() | st.floats(2, 40))
def test_any_process_within_its_limits_is_read_as_it_was_written(
    developer: float, drain: float, fix: float, factor: float | None
) -> None:
    """To the last digit."""
    update = {"developer_seconds": developer, "drain_seconds": drain, "fix_seconds": fix, "factor": factor}
    one = USUAL["RC"].model_copy(update=update)
    assert read_process(write_process(one), "a file") == one


def test_rules_are_read_as_they_were_written() -> None:
    """The usual ones."""
    assert read_rules(write_rules(BathRules()), "a file") == BathRules()


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"developer_seconds": 5}, "developer_seconds.*10 to 900"),
        ({"developer_seconds": True}, "developer_seconds"),
        ({"developer_seconds": "long"}, "developer_seconds"),
        ({"developer_seconds": 1e400}, "developer_seconds"),
        ({"celsius": 9}, "celsius.*10 to 35"),
        ({"celsius": 36}, "celsius.*10 to 35"),
        ({"factor": 0}, "factor"),
        ({"support": "PE"}, "RC, FB"),
        ({"stop_secs": 3}, "stop_secs"),
        ({"least_fix_seconds": 61}, "60 s"),
        ({"fix_seconds": None}, "fix_seconds"),
    ],
)
def test_a_figure_that_cannot_be_is_refused_with_its_key(changes: dict[str, Any], told: str) -> None:
    """One sentence, with what would do."""
    tree = json.loads(write_process(USUAL["RC"])) | changes
    with pytest.raises(Unreadable, match=told):
        read_process(json.dumps(tree), "a file")


@pytest.mark.parametrize(
    "changes", [{"fix": {"litres": 0}}, {"changes": -1}, {"aid": 3}, {"fix": {"litres": 1, "ag": 2}}]
)
def test_a_rule_that_cannot_be_is_refused(changes: dict[str, Any]) -> None:
    """And nothing of the file is taken."""
    tree = json.loads(write_rules(BathRules())) | changes
    with pytest.raises(Unreadable):
        read_rules(json.dumps(tree), "a file")
