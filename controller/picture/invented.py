"""Four invented negatives, drawn at any size from a fixed seed: a harbour crane, a boat slip, a platform, a fence.

Importing this module loads numpy.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from controller.picture.negatives import Negative

NEGATIVES: Final[dict[str, Callable[[], Negative]]] = {}
