"""The cues as a page plays and reads them."""

from __future__ import annotations

import pytest

from hardware.sounds import FAMILY, Cue
from webui.frame.practice_sight import notes_of, words_of


@pytest.mark.parametrize("cue", list(Cue))
def test_every_cue_can_be_read_and_played(cue: Cue) -> None:
    """Each cue that the keeper can sound has words, a family, and notes low and soft enough for a small dark room."""
    assert words_of(cue, 3).strip()
    assert FAMILY[cue]
    highest = 2000 if FAMILY[cue] == "trays" else 900  # a timbre of their own
    assert all(hertz == 0 or 300 <= hertz <= highest for hertz, _ in notes_of(cue, 3))
