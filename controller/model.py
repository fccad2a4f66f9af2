"""What every frozen value of the controller is made of."""

from __future__ import annotations

import dataclasses
import secrets
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from pydantic import BaseModel, ConfigDict

if TYPE_CHECKING:
    from dataclasses import replace as replace  # what checks types holds it to be this one
else:

    def replace(value, /, **changes):
        """Return a frozen dataclass with some of its fields changed, as `dataclasses.replace` does.

        One that has neither slots nor a `__post_init__` is copied as it stands, in a tenth of the time where it has
        many fields.

        Raises:
            TypeError: it has no such field.
        """
        fields = getattr(value, "__dict__", None)
        if fields is None or hasattr(value, "__post_init__"):
            return dataclasses.replace(value, **changes)
        if not changes.keys() <= fields.keys():
            raise TypeError(f"{type(value).__name__} has no {', '.join(sorted(changes.keys() - fields.keys()))}")
        new = object.__new__(type(value))
        new.__dict__.update(fields, **changes)
        return new


class Frozen(BaseModel):
    """A value that passes between rooms: it cannot be changed and knows no other keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=False, allow_inf_nan=False)


def new_id(choose: Callable[[str], str] = secrets.choice) -> str:
    """Return a short random id; 31^8 of them make a chance meeting unlikely (derived: 10,000 ids, 6 in 10^5)."""
    return "".join(choose(LETTERS) for _ in range(ID_LENGTH))


LETTERS: Final = "23456789abcdefghjkmnpqrstuvwxyz"
"""Without 0 and o, 1, i and l: an id can be read aloud in the dark."""


ID_LENGTH: Final = 8
