"""Letting a phone in: a code of eight digits that is typed, or a QR picture's secret; only the POST pairs."""

from __future__ import annotations

from ipaddress import ip_address
from typing import TYPE_CHECKING, Final

import segno
from flask import Blueprint, Response, jsonify, make_response, redirect, render_template, request
from markupsafe import Markup

from controller.addresses import is_address, local_addresses, url
from controller.errors import WrongMoment
from controller.words import say
from webui.frame.context import desk, room
from webui.frame.device import Device, device, welcome
from webui.frame.guard import needs_day, plain_host

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

blueprint = Blueprint("pairing", __name__)

LONGEST_KEY: Final = 100
"""Letters of a picture's secret that are looked at: more than it has."""


@blueprint.get("/pair")
def pair() -> ResponseReturnValue:
    """Ask for the code, or for a tap where the picture brought its secret, or a link the code, along."""
    key = request.args.get("key", "")[:LONGEST_KEY]
    return render_template("pair.html", key=key, code=_digits(request.args.get("code", "")))


@blueprint.post("/pair")
def pair_now() -> ResponseReturnValue:
    """Try the secret or the code; one that fits is used up, and this phone is let in."""
    if key := request.form.get("key", "")[:LONGEST_KEY]:
        fits = desk().pairing().try_secret(key)
        return _let_in() if fits else _again(422, say("page.pair-picture-old"))
    code = _digits(request.form.get("code", ""))
    if len(code) != 8:
        return _again(422, say("page.pair-digits"))
    try:
        fits = desk().pairing().try_code(code, request.remote_addr or "")
    except WrongMoment as problem:
        answer = _again(429, str(problem))
        answer.headers["Retry-After"] = "60"
        return answer
    return _let_in() if fits else _again(422, say("page.pair-wrong"))


def _let_in() -> Response:
    answer = make_response(redirect("/phone?new=1", 303))
    phone = desk().phones().add()
    welcome(answer, Device(phone.mark, phone.name))
    return answer


@blueprint.post("/settings/pair")
@needs_day
def let_in() -> ResponseReturnValue:
    """Make a code for another phone and show it, also as a picture; the code before it is void."""
    invitation = desk().pairing().invite()
    code, address = invitation.code, _seen_from_a_phone()
    link = f"{address}/pair?key={invitation.secret}"
    picture = segno.make(link, error="m").svg_inline(scale=6, border=2, dark="#111", light="#fff", omitsize=True)
    return render_template("let_in.html", code=f"{code[:4]} {code[4:]}", address=address, picture=Markup(picture))  # noqa: S704


@blueprint.get("/settings/phones")
@needs_day
def phones() -> ResponseReturnValue:
    """Show the paired phones, each with a button that puts it out."""
    this = device()
    return render_template("phones.html", phones=desk().phones().listed(), this=this.mark if this else "")


@blueprint.post("/settings/phones/out")
@needs_day
def put_out() -> ResponseReturnValue:
    """Put one phone out: its cookie counts no longer."""
    desk().phones().put_out(request.form.get("name", ""))
    return redirect("/settings/phones", 303)


@blueprint.get("/health")
def health() -> ResponseReturnValue:
    """Say what anyone may know: whether light could be given."""
    told = desk().health()
    person = "text/html" in request.headers.get("Accept", "")  # figures alone would be a white page in the dark
    answer = make_response(render_template("health.html", told=told)) if person else jsonify(told.model_dump())
    answer.status_code = 200 if told.ok else 503
    return answer


@blueprint.get("/favicon.ico")
def no_icon() -> ResponseReturnValue:
    """Give no icon: it would be a picture on a dark screen."""
    return "", 204


def _again(status: int, sentence: str) -> Response:
    return make_response(render_template("pair.html", code="", said=sentence), status)


def _digits(text: str) -> str:
    """Return the digits of a typed code, at most nine: enough to know that it is too long."""
    return "".join(c for c in text if c.isascii() and c.isdigit())[:9]


def _seen_from_a_phone() -> str:
    """Return where another phone finds the page: a number before a name, for not every phone finds names.

    A number that this phone itself has come by is known to work.
    """
    came_by = plain_host(request.host)
    if is_address(came_by) and not ip_address(came_by).is_loopback:
        return f"{request.scheme}://{request.host}"
    for address in local_addresses():
        if ip_address(address).version == 4:
            return url(address, int(request.environ["SERVER_PORT"]), secure=room().secure)
    return f"{request.scheme}://{request.host}"
