"""The practice sounder: silent here, since the page sounds the cues that the keeper says it has sounded."""

from __future__ import annotations

from collections.abc import Sequence

from hardware.sounds import Note


class SilentSounder:
    """A sounder that is always ready and makes no sound of its own."""

    def play(self, notes: Sequence[Note]) -> None:
        """Take the notes and make no sound."""

    def close(self) -> None:
        """Do nothing: it is silent already."""
