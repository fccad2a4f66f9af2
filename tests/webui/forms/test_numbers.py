"""One number, however it is asked for: a page's field, a table's cell, a recipe's form and the command line agree."""

from __future__ import annotations

from decimal import Decimal

import pytest

from controller.commands.paper import _number
from controller.errors import ControllerError, Unreadable
from controller.exposure.decimals import seconds
from controller.exposure.reckon import reckon
from controller.store.settings import Settings, changed
from webui.forms.form import Fields, number, read_amount

NUMBERS = {"10.1": 10.1, "10,1": 10.1, ".5": 0.5, ",5": 0.5, "5.": 5.0, "+3": 3.0, " 12 ": 12.0}
NONE = ("nan", "inf", "1e1", "1_0", "ten", "1.2.3", "10 s", "１")


@pytest.mark.parametrize(("text", "value"), NUMBERS.items())
def test_pages_and_command_line_read_the_same_number(text: str, value: float) -> None:
    """What one of them reads as a number all read, and as the same one."""
    assert Fields("contrast.field-", {"thin": text}, ("thin",)).needed("thin", "0", "100") == Decimal(str(value))
    assert number(text) == value
    assert read_amount(text, "x", "papers.wrong-number", 0.0, 100.0, {}) == value
    assert _number(text, "--soft", 0.0, 100.0) == value
    assert reckon("between", {"one": text, "two": text}).model_dump() == {"seconds": value}
    assert seconds(text) == value
    assert changed(Settings(), {"safe_minutes": text}).safe_minutes == value


@pytest.mark.parametrize("text", NONE)
def test_what_is_no_number_is_refused_in_a_sentence_that_names_it(text: str) -> None:
    """Exponents, nan, inf and words are refused everywhere, each time with what was typed; a recipe keeps the text."""
    wrong: dict[str, str] = {}
    assert read_amount(text, "x", "papers.wrong-number", 0.0, 100.0, wrong) is None
    assert text in wrong["x"]
    with pytest.raises(Unreadable, match=text):
        Fields("contrast.field-", {"thin": text}, ("thin",)).figure("thin", "0", "100")
    with pytest.raises(ControllerError, match=text):
        _number(text, "--soft", 0.0, 100.0)
    with pytest.raises(ControllerError, match=f"“a time” is “{text}”") as refused:
        reckon("burn", {"base": text, "stops": "1"}, lambda name: "“a time”")
    assert refused.value.place == ("base",)
    assert number(text) == text
    with pytest.raises(ValueError, match=text):
        seconds(text)
    with pytest.raises(Unreadable, match=f"“{text.strip()}”"):
        changed(Settings(), {"safe_minutes": text})
