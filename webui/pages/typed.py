"""What answered a form that was sent, to be come back to: a reload or Back sends nothing again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint, redirect, request

from webui.frame.device import device
from webui.frame.form_answers import form_answers, show_again
from webui.frame.guard import waits_for_day
from webui.pages.acts import back_to

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

blueprint = Blueprint("typed", __name__)


@blueprint.get("/typed/<key>")
@waits_for_day
def typed(key: str) -> ResponseReturnValue:
    """Show the answer to a form again; where it is no longer kept, the form itself, which has its draft."""
    phone = device()
    page = form_answers().page(key, phone.mark) if phone is not None else None
    if page is None:
        return redirect(back_to(request.args.get("home", "/")), 303)
    return show_again(page)
