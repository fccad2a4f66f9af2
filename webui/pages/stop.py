"""STOP: dark now. It asks for the pairing cookie and Origin, and for nothing else.

It is judged and carried out before the app comes to it, so that no rule, page or session of the app can hold it up or
fail before it. What is refused here goes on to the app, whose guard says why.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

from flask import Blueprint, redirect
from werkzeug.datastructures import EnvironHeaders

from webui.frame.assets import ALWAYS
from webui.frame.context import desk
from webui.frame.guard import STOP_PATH, may_stop

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment
    from flask.typing import ResponseReturnValue

    from webui.frame.context import Room

blueprint = Blueprint("stop", __name__)
_HEADERS: Final = [*ALWAYS.items(), ("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")]


@blueprint.post(STOP_PATH)
def stop() -> ResponseReturnValue:
    """Darken where the app's guard let in what was not let in before it: off is the answer to doubt."""
    desk().stop()
    return redirect("/", 303)


class StopFirst:
    """Stands before the app and carries STOP out itself."""

    def __init__(self, app: WSGIApplication, web: Room) -> None:
        self._app, self._web = app, web

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Darken first, then answer; anything that is no STOP of a paired phone's page is the app's."""
        if environ.get("REQUEST_METHOD") != "POST" or environ.get("PATH_INFO") != STOP_PATH:
            return self._app(environ, start_response)
        if not may_stop(EnvironHeaders(environ).get, environ.get("wsgi.url_scheme", ""), self._web):
            return self._app(environ, start_response)
        self._web.desk.stop()
        return _answered(str(environ.get("HTTP_ACCEPT", "")), start_response)


def _answered(accept: str, start_response: StartResponse) -> Iterable[bytes]:
    """Answer a script with a word, and lead a form back to the first page."""
    script = "application/json" in accept and "text/html" not in accept
    body = (json.dumps({"stopped": True}) if script else "").encode()
    headers = [*_HEADERS, ("Content-Length", str(len(body)))]
    if script:
        start_response("200 OK", [*headers, ("Content-Type", "application/json")])
    else:
        start_response("303 See Other", [*headers, ("Location", "/"), ("Content-Type", "text/html; charset=utf-8")])
    return [body]
