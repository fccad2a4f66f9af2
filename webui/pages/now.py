"""The pages a printer looks at; a GET changes nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from flask import Blueprint, redirect, render_template, request

from controller.store.settings import Settings
from controller.words import say
from webui.forms.settings import FOLDS, OPEN, called_as_on_the_page, entries, fold, read_form
from webui.frame.context import day_allowed, desk, now
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, opened_as_page, waits_for_day
from webui.frame.panel import KINDS, choices_of, desk_panel
from webui.pages.record import plan_picture
from webui.pages.trays import due

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from webui.forms.settings import Entry

blueprint = Blueprint("pages", __name__)

TEN: Final = 10
"""Recipes and strips on the list that is chosen from in the dark."""


@blueprint.get("/")
def now_page() -> ResponseReturnValue:
    """Show what is next, or the light that is on."""
    plan = now().plan
    return render_template(
        "now.html",
        panel=desk_panel(now(), desk()),
        plan_lines=plan.steps if plan else (),
        plan_picture=plan_picture(plan) if plan else "",
        part="now",
        due=due() if day_allowed() else (),
    )


@blueprint.get("/now")
def now_part() -> ResponseReturnValue:
    """Show the panel alone, as a page takes it in; it is a part, and no page by itself."""
    if opened_as_page():
        return redirect("/", 303)
    return render_template("panel_alone.html", panel=desk_panel(now(), desk()))


@blueprint.get("/choose")
def choose() -> ResponseReturnValue:
    """Show the last used and newest that can be loaded; by day, what is searched for."""
    panel = desk_panel(now(), desk(), TEN)
    words = request.args.get("q", "").strip() if day_allowed() else ""
    if words:
        found = {kind: desk().find().things(kind, words, limit=TEN).things for kind in KINDS}
        choices = tuple(choice for kind in KINDS for choice in choices_of(kind, found[kind], now()))
        panel = replace(panel, choices=choices, more_choices=False)
    return render_template("choose.html", panel=panel, words=words)


@blueprint.get("/sheets")
def sheets() -> ResponseReturnValue:
    """Show the sessions and their sheets, newest first, a page at a time; or the sheets that are searched for."""
    words, below = request.args.get("q", "").strip(), request.args.get("below", type=int)
    if words:
        return render_template(
            "sessions.html", words=words, below=below, found=desk().find().sheets(words, below=below)
        )
    return render_template(
        "sessions.html", words="", shown=desk().sheets(below=below, above=request.args.get("above", type=int))
    )


@blueprint.get("/settings")
@needs_day
def settings() -> ResponseReturnValue:
    """Show the settings, to be changed in the lit room."""
    return render_template(
        "settings.html",
        **_folded(entries(desk().settings())),
        said=say("page.settings-kept") if request.args.get("kept") else "",
    )


@blueprint.post("/settings")
@waits_for_day
def change_settings() -> ResponseReturnValue:
    """Keep changed settings; a bad one leaves all as they were and the form as it was typed."""
    changes, typed = read_form(request.form, Settings)
    try:
        desk().change_settings(changes)
    except ValueError as problem:
        shown = entries(desk().settings(), typed, str(problem))
        return show(
            "settings.html",
            422,
            said=called_as_on_the_page(str(problem), Settings),
            to_correct=tuple((entry.key, entry.name) for entry in shown if entry.wrong),
            **_folded(shown),
        )
    return redirect("/settings?kept=1", 303)


def _folded(shown: tuple[Entry, ...]) -> dict[str, Any]:
    """Return the settings as the page has them: a few open, the rest in folds."""
    return {"open": fold(shown, OPEN), "folds": [(name, fold(shown, keys)) for name, keys in FOLDS.items()]}
