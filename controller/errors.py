"""The controller's errors: one family, each a sentence for the person, from the catalogue, with a remedy."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager


class ControllerError(Exception):
    """Something a printer asked for cannot be done; `str()` is the sentence, remedy included.

    `place` is where in a recipe or strip it stands, as keys and numbers from 0 ("light", 1, "seconds"), so
    that a page can show the sentence beside its field; empty where it is not about one place.
    """

    def __init__(self, sentence: str = "", place: tuple[int | str, ...] = ()) -> None:
        super().__init__(sentence)
        self.place = place


class Unreadable(ControllerError, ValueError):
    """A recipe, strip, foot trace or setting is not as it must be; the sentence names file, key and remedy."""


class Impossible(ControllerError, ValueError):
    """A recipe or strip cannot be turned into steps; the sentence says which value and what would do."""


class WrongMoment(ControllerError):
    """The act does not fit what is going on now; the page answers 409."""


class NotThere(ControllerError, LookupError):
    """No recipe, strip, sheet or paper of that id is kept."""


class StoreTrouble(ControllerError):
    """The journal or the shelf cannot be read or written; nothing may be lit until it can."""


class Damaged(StoreTrouble):
    """The journal's or the shelf's file is not whole; it is left as it is."""


class KeeperGone(ControllerError):
    """The keeper does not answer, so no light can be given; the page answers 503."""


@contextmanager
def standing_at(*place: int | str) -> Iterator[None]:
    """Let what is refused inside say that it stands at `place`, unless it knows a place of its own."""
    try:
        yield
    except Impossible as error:
        if error.place:
            raise
        raise Impossible(str(error), place) from None
