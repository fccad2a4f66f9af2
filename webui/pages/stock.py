"""Paper in boxes, by day: sheets left, counted by hand where they are not what was reckoned, and what one costs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Blueprint, redirect, request

from controller.errors import ControllerError, Unreadable
from controller.words import say
from webui.forms.form import NONE, Fields, Refusal, to_correct, told
from webui.frame.context import desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

blueprint = Blueprint("stock", __name__)

MOST_SHEETS: Final = "10000"
MOST_MONEY: Final = "1000000"
CENTS: Final = 2
"""Digits behind the point of an amount of money."""


@blueprint.get("/stock")
@needs_day
def stock() -> ResponseReturnValue:
    """Show the boxes, the one that is out first."""
    return _stock()


@blueprint.post("/stock/count")
@waits_for_day
def count() -> ResponseReturnValue:
    """Note how many sheets are in a box, and what one costs; what was noted before stays on file."""
    at = request.form.get("at", default=0, type=int)
    sheets, price = f"sheets-{at}", f"price-{at}"
    typed = Fields("editions.label-", request.form, (sheets, price, "paper", "title", "box"))
    try:
        number = typed.figure(sheets, "0", MOST_SHEETS, say("editions.label-sheets"))
        if number is None or number != int(number):
            raise typed.no_figure(sheets, typed[sheets], "0", MOST_SHEETS, say("editions.label-sheets"))
        amount = typed.figure(price, "0", MOST_MONEY, say("editions.label-price"))
        if amount is not None and amount != round(amount, CENTS):
            raise Unreadable(say("editions.cents"), (price,))
        desk().editions().stock().count(typed["paper"], typed["title"], typed["box"], int(number), amount)
    except ControllerError as error:
        return _stock(told({}, error), at, {"sheets": typed[sheets], "price": typed[price]})
    return redirect("/stock", 303)


def _stock(refusal: Refusal = NONE, opened: int = -1, typed: dict[str, str] | None = None) -> ResponseReturnValue:
    boxes = desk().editions().stock().boxes()
    if len(boxes) == 1:
        opened = 0
    return show(
        "stock.html",
        refusal.status,
        home="/stock",
        boxes=boxes,
        opened=opened,
        typed=typed,
        refusal=refusal,
        to_correct=to_correct(refusal, lambda name: say(f"editions.label-{name.partition('-')[0]}")),
    )
