"""What every frozen value of the controller is made of."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from typing import Final

from pydantic import BaseModel, ConfigDict


class Frozen(BaseModel):
    """A value that passes between rooms: it cannot be changed and knows no other keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=False, allow_inf_nan=False)


def new_id(choose: Callable[[str], str] = secrets.choice) -> str:
    """Return a short random id; 31^8 of them make a chance meeting unlikely (derived: 10,000 ids, 6 in 10^5)."""
    return "".join(choose(LETTERS) for _ in range(ID_LENGTH))


LETTERS: Final = "23456789abcdefghjkmnpqrstuvwxyz"
"""Without 0 and o, 1, i and l: an id can be read aloud in the dark."""


ID_LENGTH: Final = 8
