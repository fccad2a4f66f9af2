"""The list of pages: whatever lies in the folder of pages is registered, and the app needs no other list."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

from flask import Blueprint
from tools.stand_in_desk import StandInDesk

import webui.pages
from webui.app import create_app


def test_every_page_is_registered() -> None:
    """Each module of `webui.pages` that has a blueprint has an address in the practice darkroom's app."""
    app = create_app(StandInDesk(practice=True), hosts=["localhost"])
    shown = {view.__module__ for view in app.view_functions.values()}
    folder = Path(next(iter(webui.pages.__path__)))
    names = [f"webui.pages.{file.stem}" for file in folder.glob("*.py") if file.stem != "__init__"]
    with_pages = {name for name in names if isinstance(getattr(import_module(name), "blueprint", None), Blueprint)}
    assert len(with_pages) > 15
    assert with_pages <= shown, sorted(with_pages - shown)


def test_the_practice_pages_are_not_there_with_real_lines() -> None:
    """With real lines no address of the simulated darkroom exists."""
    app = create_app(StandInDesk(), hosts=["localhost"])
    assert not [rule.rule for rule in app.url_map.iter_rules() if rule.rule.startswith("/practice")]
