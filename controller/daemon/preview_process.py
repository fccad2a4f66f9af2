"""The process that renders previews: `python -P -m controller.daemon.preview_process`, one order after the other.

It reads each order as a line of JSON, with the file of the picture, and answers with a line of JSON and the PNG's bytes
behind it; or with the sentence of a refusal. The last picture and its map are kept: a second print of one scan is only
rendered. It takes little memory, goes first where that runs out, and lets everybody else have the processor before. It
ends when its input does.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from controller.errors import ControllerError
from controller.preview.orders import Order
from controller.unpack.unpack_process import hold_back
from controller.words import say

if TYPE_CHECKING:
    from controller.preview.easel_map import EaselMap
    from controller.preview.orders import Tie
    from controller.unpack.greys import Coding, Levels

MOST_MEMORY: Final = 260_000_000
"""Bytes of its own, its libraries' among them: a grid, or a print as large as it may be, takes 190 million."""
MOST_CPU_S: Final = 600


def main() -> None:
    """Answer orders until there are no more."""
    hold_back(MOST_MEMORY, MOST_CPU_S)
    answer(sys.stdin.buffer.readline, sys.stdout.buffer.write, sys.stdout.buffer.flush)


def answer(read: Callable[[], bytes], write: Callable[[bytes], object], flush: Callable[[], object]) -> None:
    """Answer each order that is read."""
    while line := read():
        told, picture = answered(line)
        write(json.dumps(told | {"bytes": len(picture)}).encode() + b"\n" + picture)
        flush()


def answered(line: bytes) -> tuple[dict[str, Any], bytes]:
    """Return what an order comes to: its figures and its picture, or why it cannot be had."""
    asked = json.loads(line)
    order = Order.model_validate(asked["order"])
    try:
        from controller.preview.prints import render

        picture, shown = render(order, _mapped(asked["picture"], order.ties))
    except ControllerError as problem:
        return {"refused": str(problem)}, b""
    except OSError:
        return {"refused": say("store.picture-gone")}, b""
    except MemoryError:
        return {"refused": say("preview.memory")}, b""
    return {"shown": shown.model_dump()}, picture


@lru_cache(maxsize=1)
def _mapped(picture: str, ties: tuple[Tie, ...]) -> EaselMap:
    from controller.preview.easel_map import tied

    return tied(*_levels(picture), ties)


@lru_cache(maxsize=1)
def _levels(picture: str) -> tuple[Levels, Coding]:
    """Return the levels of a kept picture, which is named by what is in it."""
    from controller.preview.orders import MOST_SIDE
    from controller.unpack.greys import Fit, read_greys, upright

    with Path(picture).open("rb") as file:
        greys = read_greys(file, say("preview.the-scan"), Fit(MOST_SIDE**2, MOST_SIDE))
        return upright(greys.whole(), greys.turned), greys.coding


if __name__ == "__main__":
    main()
