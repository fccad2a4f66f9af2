"""How soon previews are there: a grid of 25 at phone size, and one print, the first and those after it.

`python tests/benchmarks/bench_preview.py [PRINTS]`: rendered by the process of its own, as a page has them; each with
a pair that was not asked for before. The design's bound is 0.3 s for a grid after the first.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

from machine import share, table  # puts the tests on the path

# isort: split
from tools.preview_scans import file_of, fitted_one, light_through, ties_of

from controller.daemon.preview_desk import GRID_SIDE_PIXELS, SIDE_PIXELS
from controller.daemon.preview_renderer import PreviewRenderer
from controller.preview.lights import of_pair, round_a_pair
from controller.preview.orders import DrawnArea, Lit, Order

AREA = DrawnArea(letter="A", outline=((0.1, 0.1), (0.6, 0.1), (0.6, 0.4), (0.1, 0.4)))
BURN = Lit(light="soft", seconds=6.0, way="hole", areas=("A",))


def one(soft: float) -> Order:
    """Return a print of a pair, with a burn."""
    return Order(
        paper=fitted_one(),
        ties=ties_of("crane"),
        prints=((*of_pair(soft, 4.4), BURN),),
        areas=(AREA,),
        side=SIDE_PIXELS,
    )


def grid(soft: float) -> Order:
    """Return the grid of 25 round a pair, with a burn."""
    pairs = [pair for row in round_a_pair((Decimal(str(soft)), Decimal("4.4"))) for pair in row]
    prints = tuple((*of_pair(*map(float, pair)), BURN) for pair in pairs)
    return one(soft).model_copy(update={"prints": prints, "side": GRID_SIDE_PIXELS})


def seconds(renderer: PreviewRenderer, picture: Path, orders: list[Order]) -> list[float]:
    """Return how long each order took."""
    taken = []
    for order in orders:
        began = time.perf_counter()
        renderer.render(order, picture)
        taken.append(time.perf_counter() - began)
    return taken


def main(prints: int) -> None:
    """Measure and print."""
    rows: list[tuple[object, ...]] = [("", "first", "p50", "p99", "of")]
    with tempfile.TemporaryDirectory() as folder:
        picture = Path(folder) / "crane.jpg"
        picture.write_bytes(file_of(light_through("crane", 800, 1000), "JPEG 8"))
        made: tuple[tuple[str, Callable[[float], Order]], ...] = (("grid of 25", grid), ("one print", one))
        for name, make in made:
            renderer = PreviewRenderer(lambda: False)
            try:
                first, *rest = seconds(renderer, picture, [make(8.0 + n / 10) for n in range(prints + 1)])
            finally:
                renderer.close()
            rows.append((name, f"{first:.2f}", f"{share(rest, 50):.3f}", f"{share(rest, 99):.3f}", len(rest)))
    table("Seconds from asking for a preview to having it", rows)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
