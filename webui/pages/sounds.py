"""Every sound by day, as a printer learns them: what it means, its notes in words, and a button to hear it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from flask import Blueprint, redirect, render_template, request

from controller.words import say
from hardware.sounds import Cue
from webui.frame.context import desk
from webui.frame.guard import needs_day
from webui.frame.practice_sight import notes_of, words_of
from webui.frame.refusals import refuse, wants_json

if TYPE_CHECKING:
    from collections.abc import Sequence

    from flask.typing import ResponseReturnValue

blueprint = Blueprint("sounds", __name__)

GROUPS: Final[dict[str, tuple[Cue, ...]]] = {
    "light": (Cue.LEAD_IN, Cue.TICK, Cue.LAST, Cue.DONE, Cue.STOPPED, Cue.CLOSED),
    "hands": (Cue.HANDS, Cue.DODGER_IN, Cue.DODGER_OUT, Cue.MOVE_CARD),
    "filter": (Cue.SOFT, Cue.HARD, Cue.OTHER),
    "answers": (Cue.NO, Cue.WAIT, Cue.QUESTION, Cue.NUMBER),
    "white": (Cue.WARNING, Cue.BEAT, Cue.DARK),
    "trays": (Cue.TRAY_ASK, Cue.TRAY_IN, Cue.TRAY_TICK, Cue.TRAY_LIFT, Cue.TRAY_NEXT, Cue.TRAY_SAFE),
    "alarm": (Cue.WEAK, Cue.ALARM),
}
"""Every cue once, by what it is about; first what every sheet has."""
SAMPLE: Final = 3
"""The number that stands for every number a message may count."""


@dataclass(frozen=True, slots=True)
class Sound:
    """One sound as the page shows it."""

    cue: str
    place: str
    words: str
    in_words: str
    """Its notes, for whoever cannot play them."""
    notes: str
    """Its notes as JSON: pairs of hertz (0 is silence) and ms."""


@blueprint.get("/sounds")
@needs_day
def sounds() -> ResponseReturnValue:
    """Show every sound with its meaning."""
    groups = [(say(f"sounds.group-{name}"), [_sound(cue) for cue in cues]) for name, cues in GROUPS.items()]
    return render_template("sounds.html", groups=groups)


@blueprint.post("/sounds/hear")
@needs_day
def hear() -> ResponseReturnValue:
    """Have the sounder itself say one."""
    asked = request.form.get("cue", "")
    if asked not in set(Cue):
        return refuse(404, say("sounds.unknown"))
    cue = Cue(asked)
    desk().hear(cue, SAMPLE if cue is Cue.NUMBER else 0)
    return ("", 204) if wants_json() else redirect(f"/sounds#{_place(cue)}", 303)


def _place(cue: Cue) -> str:
    """Return where on the page a sound stands."""
    return cue.replace(" ", "-")


def _sound(cue: Cue) -> Sound:
    counted = cue is Cue.NUMBER
    notes = notes_of(cue, SAMPLE if counted else 0)
    words = say("sounds.number", number=SAMPLE) if counted else words_of(cue)
    return Sound(cue, _place(cue), words, notes_in_words(notes), json.dumps(notes, separators=(",", ":")))


def notes_in_words(notes: Sequence[tuple[int, int]]) -> str:
    """Return notes of (hertz, ms) as they are read; what is played over and over is said once."""
    once = next(n for n in range(1, len(notes) + 1) if tuple(notes[:n]) * (len(notes) // n) == tuple(notes))
    told = ", ".join(
        say("sounds.tone", hertz=hertz, ms=ms) if hertz else say("sounds.silence", ms=ms) for hertz, ms in notes[:once]
    )
    times = len(notes) // once
    return told if times == 1 else say("sounds.times", times=times, notes=told)
