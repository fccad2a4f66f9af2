"""Every no is a sentence with a remedy, in the face that is allowed: never a white page in the dark."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final
from urllib.parse import quote

from flask import Flask, Response, current_app, jsonify, make_response, redirect, render_template, request
from werkzeug.exceptions import HTTPException, InternalServerError

from controller.errors import ControllerError, Impossible, KeeperGone, NotThere, StoreTrouble, Unreadable, WrongMoment
from controller.words import say
from webui.frame.context import desk, look_again, now
from webui.frame.device import device
from webui.frame.panel import desk_panel
from webui.wording import refusal_for

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

STATUS_OF: Final[tuple[tuple[type[ControllerError], int], ...]] = (
    (WrongMoment, 409),
    (NotThere, 404),
    (Unreadable, 422),
    (Impossible, 422),
    (StoreTrouble, 503),
    (KeeperGone, 503),
)
LEFT_OUT: Final = ("numpy", "scipy", "PIL")
"""Libraries that a small Pi may do without."""
WAIT_S: Final = 2
"""How soon a 503 may be tried again."""


def refuse(status: int, sentence: str, *, wait_s: int | None = None) -> Response:
    """Return a refusal: JSON to a script that asks for it, else a page that says how to go on."""
    if wants_json():
        answer = jsonify(refusal=sentence, number=now().number if device() else None)
    else:
        answer = make_response(render_template("refusal.html", sentence=sentence, status=status))
    return _with(answer, status, wait_s)


def refuse_act(status: int, sentence: str, *, wait_s: int | None = None) -> Response:
    """Return a refusal together with how things stand now, so that the next tap is decided on that."""
    if wants_json():
        return refuse(status, sentence, wait_s=wait_s)
    look_again()
    page = render_template("now.html", said=sentence, panel=desk_panel(now(), desk()), part="now")
    return _with(make_response(page), status, wait_s)


def refuse_unpaired() -> Response:
    """Return the pairing page as the refusal: the remedy is right there."""
    sentence = say("page.refused-unpaired")
    if wants_json():
        return _with(jsonify(refusal=sentence), 403, None)
    return _with(make_response(render_template("pair.html", code="", said=sentence)), 403, None)


def wants_json() -> bool:
    """Tell whether a script asks, and not a person."""
    best = request.accept_mimetypes.best_match(["text/html", "application/json"])
    return best == "application/json"


def status_of(error: ControllerError, otherwise: int = 422) -> int:
    """Return the status of a refusal of the controller's; `otherwise` for one of no family."""
    return next((code for kind, code in STATUS_OF if isinstance(error, kind)), otherwise)


def answer(app: Flask) -> None:
    """Turn every error that a route leaves into a refusal."""

    @app.errorhandler(ControllerError)
    def controller(error: ControllerError) -> ResponseReturnValue:
        """Answer what the controller refuses in its own words."""
        status = status_of(error, 409)
        wait_s = WAIT_S if status == 503 else None
        if status in {409, 503} and request.blueprint == "acts":
            return refuse_act(status, str(error), wait_s=wait_s)
        return refuse(status, str(error), wait_s=wait_s)

    @app.errorhandler(ModuleNotFoundError)
    def lacking(error: ModuleNotFoundError) -> ResponseReturnValue:
        """Answer where a lean machine lacks what the reckoning of papers needs; anything else is a mistake of ours."""
        if (error.name or "").partition(".")[0] not in LEFT_OUT:
            raise error
        return refuse(503, say("command.paper-libraries"))

    @app.errorhandler(HTTPException)
    def http(error: HTTPException) -> ResponseReturnValue:
        """Answer what the protocol refuses; a redirect is no refusal."""
        code = error.code or 500
        if code < 400:
            return error.get_response()
        if code == 405 and request.method in {"GET", "HEAD"} and not wants_json() and (page := page_above()):
            return redirect(page, 303)
        refusal = refuse(code, refusal_for(code), wait_s=WAIT_S if code == 503 else None)
        for name, value in error.get_headers():
            if name == "Allow":
                refusal.headers[name] = value
        return refusal

    @app.errorhandler(InternalServerError)
    def broken(_error: InternalServerError) -> ResponseReturnValue:
        """Answer a mistake of ours: the light goes on as planned, and the log has the rest."""
        return refuse(500, say("page.refused-500"))


def page_above() -> str:
    """Return the page that an address which takes posts alone belongs to: the next one above it; empty for none.

    So a tab that comes back to where a form was once sent shows the form, and not a refusal.
    """
    adapter = current_app.create_url_adapter(request)
    if adapter is None:
        return ""
    try:
        rule, _ = adapter.match(method="POST", return_rule=True)
    except HTTPException:  # it is written in a way that no form has
        return ""
    above, path = rule.rule, request.path
    looked_at = {each.rule for each in current_app.url_map.iter_rules() if "GET" in (each.methods or ())}
    while above.count("/") > 1:
        above, path = above.rpartition("/")[0], path.rpartition("/")[0]
        if above in looked_at:
            return quote(path)
    return ""


def _with(answer: Response, status: int, wait_s: int | None) -> Response:
    answer.status_code = status
    if wait_s is not None:
        answer.headers["Retry-After"] = str(wait_s)
    return answer
