"""Small frozen models of the desk: what pages are shown beside the status and the records."""

from __future__ import annotations

from typing import Literal

from controller.model import Frozen


class Health(Frozen):
    """What `/health` says to anyone."""

    ok: bool
    keeper: Literal["ready", "away", "fault"]
    practice: bool
