"""What the paper pages need beside the standard installation: numpy, scipy and Pillow."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from typing import TYPE_CHECKING, Final

from controller.errors import Impossible
from controller.words import say

if TYPE_CHECKING:
    pass


@contextmanager
def with_libraries() -> Iterator[None]:
    """Say what is missing where the reckoning's libraries are not installed."""
    try:
        yield
    except ImportError:
        raise Impossible(say("contrast.no-libraries")) from None


def curves_can_be_had() -> bool:
    """Tell whether the libraries that curves are reckoned with are installed; neither is loaded to know it."""
    return find_spec("numpy") is not None and find_spec("scipy") is not None


def missing_libraries() -> str:
    """Return which libraries of the reckoning are not installed, as a list in words; empty where all are there."""
    return ", ".join(name for name, module in _LIBRARIES if find_spec(module) is None)


_LIBRARIES: Final = (("numpy", "numpy"), ("scipy", "scipy"), ("Pillow", "PIL"))
