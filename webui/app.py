"""The factory of the web room: one Flask app around one desk."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final

from flask import Flask, abort, g, make_response, request
from flask.typing import ResponseReturnValue
from markupsafe import Markup

from controller.words import say, say_many
from webui.frame import assets as headers
from webui.frame import guard, live, refusals
from webui.frame.assets import Asset, read_assets
from webui.frame.compress import compress_answers
from webui.frame.context import Room, day_allowed, desk, furnish, now
from webui.frame.device import device, token
from webui.frame.form_answers import answer_once, drafts_done, once
from webui.frame.incoming import IncomingRequest
from webui.frame.logs import Seldom, one_line, place_of
from webui.frame.looks import LOOKS
from webui.frame.offers import moved_of
from webui.frame.practice_sight import furnish_practice
from webui.frame.red import red
from webui.frame.red import style as red_levels
from webui.frame.templates import read_templates
from webui.pages import (
    acts,
    alignment,
    by_eye,
    carry,
    contrast,
    easel,
    editions,
    enlarger,
    evenness,
    fog,
    lamp,
    looked,
    negatives,
    numbered,
    one_filter,
    pairing,
    paper_tests,
    papers,
    phone,
    photographs,
    practice,
    practice_lead,
    practice_prints,
    reckon,
    record,
    scan,
    shelf,
    sounds,
    stock,
    stop,
    tests,
    trays,
    typed,
    your_data,
)
from webui.pages import now as now_page
from webui.wording import lit_line

if TYPE_CHECKING:
    from controller.daemon.desk import Desk

LARGEST_BODY: Final = 300_000
"""Bytes a request may bring: a recipe of 256 kB with its form around it."""
PAGES: Final = tuple(
    page.blueprint
    for page in (
        stop,
        now_page,
        phone,
        pairing,
        acts,
        live,
        record,
        photographs,
        shelf,
        reckon,
        contrast,
        carry,
        enlarger,
        lamp,
        easel,
        looked,
        papers,
        by_eye,
        one_filter,
        scan,
        negatives,
        editions,
        numbered,
        stock,
        your_data,
        sounds,
        trays,
        tests,
        fog,
        evenness,
        alignment,
        paper_tests,
        typed,
    )
)
"""Every page there is, whether light comes from real lines or not: a new one is named here, and nowhere else."""
PRACTICE_PAGES: Final = (practice.blueprint, practice_prints.blueprint)
"""The pages of a darkroom that is simulated."""
Names = Sequence[str] | Callable[[], Sequence[str]]


def create_app(desk: Desk, *, hosts: Names, secure: bool = False) -> Flask:
    """Return the app that shows `desk`.

    `hosts` are the names it answers to, without port, the best one first; where they may change, what returns them.
    Every other name is refused, whatever its case; a number never is. `secure` says that it is served by https.
    """
    app = _App(__name__, static_folder=None)
    app.config.update(MAX_CONTENT_LENGTH=LARGEST_BODY, MAX_FORM_MEMORY_SIZE=LARGEST_BODY, MAX_FORM_PARTS=400)
    read_templates(app)
    web = Room(desk, hosts if callable(hosts) else lambda: hosts, secure)
    furnish(app, web)
    guard.watch(app)
    answer_once(app)
    refusals.answer(app)
    compress_answers(app)
    _give_words(app, web, read_assets())
    live.furnish_live(app, web.run)
    for blueprint in PAGES:
        app.register_blueprint(blueprint)
    if (room := desk.practice()) is not None:
        furnish_practice(app, room, practice_lead.painted_lead(desk, app.jinja_env))
        for blueprint in PRACTICE_PAGES:
            app.register_blueprint(blueprint)
    app.wsgi_app = stop.StopFirst(app.wsgi_app, web)  # type: ignore[method-assign]  # the way Flask has it done
    return app


class _App(Flask):
    """The app, whose log cannot be flooded by asking for what fails."""

    request_class = IncomingRequest

    def __init__(self, name: str, *, static_folder: str | None) -> None:
        super().__init__(name, static_folder=static_folder)
        self._seldom = Seldom()

    def log_exception(self, exc_info: Any) -> None:
        """Write a mistake of ours down, once a minute each; the path in one line, whoever chose it."""
        if self._seldom.may(place_of(exc_info[1])):
            path = one_line(repr(request.path))
            self.logger.error("Exception at %s [%s]", path, one_line(request.method), exc_info=exc_info)


def _give_words(app: Flask, web: Room, assets: dict[str, Asset]) -> None:
    """Let templates speak from the catalogue, and the browser fetch the files they name."""
    style = red_levels() + assets["first.css"].body.decode().strip()
    script = assets["first.js"].body.decode().strip()
    headers.speak(app, style=style, script=script)

    @app.get("/static/<mark>/<name>")
    def file(mark: str, name: str) -> ResponseReturnValue:
        """Give one file by its content's mark; an old mark is gone, never something else under its name."""
        asset = assets.get(name)
        if asset is None or asset.mark != mark:
            abort(404)
        answer = make_response(asset.body)
        answer.headers["Content-Type"] = asset.kind
        answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
        return answer

    @app.get("/manifest.webmanifest")
    def manifest() -> ResponseReturnValue:
        """Say how the page looks where it is put on a home screen: by itself, and black before it is there."""
        told = {
            "name": say("page.name"),
            "short_name": say("page.name"),
            "start_url": "/",
            "scope": "/",
            "display": "standalone",
            "background_color": "#000000",
            "theme_color": "#000000",
        }
        answer = make_response(told)
        answer.headers["Content-Type"] = "application/manifest+json"
        return answer

    @app.context_processor
    def words() -> dict[str, Any]:
        """Return what every template is given."""
        this = device()
        return {
            "now": now(),
            "day": this is not None and day_allowed(),
            "paired": this is not None,
            "token": token(this) if this else "",
            "lit_line": lit_line(now()),
            "run": web.run,
            "needs_day": g.get("needs_day", False),
            "red": red(),
            "home": g.get("home", ""),
        }

    app.jinja_env.globals.update(
        looks=LOOKS,
        moved_of=lambda kept: moved_of(desk(), kept),
        say=say,
        say_many=say_many,
        asset=lambda name: assets[name].address,
        sign_form=guard.sign_form,
        once=once,
        drafts_done=drafts_done,
        first_style=Markup(style),  # noqa: S704  # our own files, hashed into the policy
        first_script=Markup(script),  # noqa: S704
    )
