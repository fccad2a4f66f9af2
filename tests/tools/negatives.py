"""Sets of negatives and photographs of their proofs, invented, for tests and benchmarks."""

from __future__ import annotations

import io
from datetime import date, timedelta
from typing import Any, Final

import numpy as np
from PIL import Image

from controller.negatives.layouts import LAYOUTS, numbered
from controller.negatives.sets import KIND, NEGATIVES, read_negatives, read_tree, write_negatives
from controller.store.shelf import Shelf
from controller.store.versions import Kept

PLACES: Final = ("quay", "mole", "lighthouse", "station", "market", "bridge", "orchard", "ferry")
TIMES: Final = ("at dawn", "at noon", "in the rain", "after the fair", "by night")
MARKS: Final = ("print", "maybe", "no")


def tree(number: int = 12, frame_format: str = "6x6", **more: Any) -> dict[str, Any]:
    """Return a set as its file has it: one frame in four has a title, one in three a mark."""
    layout = next(one for one in LAYOUTS if one.format == frame_format)
    frames: list[dict[str, str]] = []
    for at, frame in enumerate(numbered("1", layout.frames)):
        one = {"frame": frame}
        if (at + number) % 4 == 0:
            one["title"] = f"{PLACES[(at + number) % len(PLACES)]} {TIMES[(at * number) % len(TIMES)]}"
        if (at + number) % 3 == 0:
            one |= {"mark": MARKS[at % 3], "look": ("-1/3", "0", "1/3", "2/3")[at % 4]}
        frames.append(one)
    return {
        "format": NEGATIVES,
        "set": f"film {number}",
        "film": ("slow film", "fast film")[number % 2],
        "date": (date(2016, 1, 1) + timedelta(days=5 * number)).isoformat(),
        "frame_format": frame_format,
        "rows": layout.rows,
        "columns": layout.columns,
        "development": "fine grain 1+1, 9 min, 20 °C",
        "frames": frames,
    } | more


def keep(shelf: Shelf, tree_: dict[str, Any] | None = None) -> Kept:
    """Keep a set."""
    made = read_tree(tree_ or tree(), "made")
    return shelf.save(KIND, made.set, write_negatives(made))


def fill(shelf: Shelf, sets: int) -> int:
    """Keep so many sets of all formats, and return how many negatives they have together: 14 each."""
    negatives = 0
    with shelf.together():
        for number in range(1, sets + 1):
            kept = keep(shelf, tree(number, LAYOUTS[number % 6].format))
            negatives += len(read_negatives(kept.body, "kept").frames)
    return negatives


def photograph(width: int = 1200, height: int = 900, rows: int = 4, columns: int = 3, **saved: Any) -> bytes:
    """Return a photograph of a proof as a JPEG: each frame of its own grey, darker from row to row, on black."""
    levels = np.zeros((height, width), np.uint8)
    for row in range(rows):
        for column in range(columns):
            top, left = height * row // rows + 6, width * column // columns + 6
            bottom, right = height * (row + 1) // rows - 6, width * (column + 1) // columns - 6
            levels[top:bottom, left:right] = 240 - (row * columns + column) * 180 // (rows * columns)
    out = io.BytesIO()
    Image.fromarray(levels).convert("RGB").save(out, saved.pop("format", "JPEG"), **saved)
    return out.getvalue()


def heavy_photograph(megabytes: float = 23.5) -> bytes:
    """Return a photograph of so many MB, as a large camera takes one: noise over greys, 48 million pixels."""
    noise = np.random.default_rng(1).integers(0, 90, (6000, 8000, 3), np.uint8)
    noise += np.linspace(0, 160, 8000).astype(np.uint8)[None, :, None]
    picture, quality = Image.fromarray(noise), 92
    while True:
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=quality)
        if out.tell() <= megabytes * 1e6:
            return out.getvalue()
        quality -= 6
