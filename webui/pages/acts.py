"""What a page may ask for: one POST route a verb, each decided on a numbered snapshot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

from flask import Blueprint, abort, redirect, request
from pydantic import ValidationError

from controller.foot.acts import ACTS, ChangeRemark, Looked, MoreBurn, WriteRemark
from controller.words import say
from webui.frame.context import desk, look_again, room
from webui.frame.live import word_for
from webui.frame.refusals import refuse_act, wants_json

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.foot.acts import Act

blueprint = Blueprint("acts", __name__)

BY_ADDRESS: Final[dict[str, type[Act]]] = {kind.model_fields["verb"].default.replace(" ", "-"): kind for kind in ACTS}
"""Each act by the last part of its address, which is its verb; `/act/call-given` is `CallGiven`."""

LACKING: Final[dict[type[Act], dict[str, str]]] = {
    MoreBurn: {"amount": "page.refused-more-burn", "filter": "page.refused-more-burn"},
    Looked: {"light": "page.refused-looked", "dark": "page.refused-looked"},
    WriteRemark: {"text": "page.refused-remark"},
    ChangeRemark: {"text": "page.refused-remark-change"},
}
"""What a form may be sent without, and what is then said."""
MOST_FAULTS: Final = 100
"""Of more no field is named; no page of ours sends such a form, and to tell each takes long."""


@blueprint.post("/act/<address>")
def act(address: str) -> ResponseReturnValue:
    """Carry out one act; then show how things stand, or go back to the page that the form names."""
    kind = BY_ADDRESS.get(address)
    if kind is None:
        abort(404)
    number = request.form.get("number", type=int)
    if number is None:
        return refuse_act(422, say("page.refused-number"))
    if request.form.get("run", room().run) != room().run:
        return refuse_act(409, say("page.refused-run"))
    for lacking, words in LACKING.get(kind, {}).items():
        if not request.form.get(lacking, "").strip():
            return refuse_act(422, say(words))
    try:
        asked = kind.model_validate(_fields(kind, request.form))
    except ValidationError as problem:
        faults = problem.errors() if problem.error_count() <= MOST_FAULTS else ()
        names = ", ".join(dict.fromkeys(str(error["loc"][0]) for error in faults if error["loc"]))
        return refuse_act(422, say("page.refused-field", fields=names or address))
    desk().do(asked, number)
    if wants_json():
        return word_for(look_again())
    return redirect(back_to(request.form.get("back", "/")), 303)


@blueprint.post("/day/used")
def day_used() -> ResponseReturnValue:
    """Let the day face last: the page that asks is being typed on. Where the day face is away this begins none."""
    desk().used()
    return "", 204


def back_to(address: str) -> str:
    """Return a form's wish where to go on, where it is a page of ours; else the first page."""
    ours = address.startswith("/") and not address.startswith("//") and "\\" not in address and address.isprintable()
    return address if ours else "/"


def _fields(kind: type[Act], form: Mapping[str, str]) -> dict[str, str]:
    """Return the act's own fields; an empty one counts as not given, and an amount is stops or seconds."""
    fields = {name: form[name] for name in kind.model_fields if name != "verb" and form.get(name, "").strip()}
    measure, _, amount = form.get("amount", "").partition(" ")
    if kind is MoreBurn and amount and measure in {"stops", "seconds"}:
        fields[measure] = amount
    return fields
