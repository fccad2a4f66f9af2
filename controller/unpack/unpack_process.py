"""The process that unpacks a picture: `python -P -m controller.unpack.unpack_process FILE INTO`, two open handles.

It reads what is wanted as a line of JSON, and answers with another: what came out, the sentence of a refusal, or why
nothing could be written. It ends when its input does: whoever wanted the picture is then gone.
"""

from __future__ import annotations

import json
import os
import resource
import sys
import threading
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Final, NoReturn

MOST_MEMORY: Final = 220_000_000
"""Bytes of its own, its libraries' among them: a picture unpacked whole takes 96 million, a progressive JPEG 144."""
MOST_CPU_S: Final = 100
_FIRST_TO_GO: Final = "1000"


def main(file: int, into: int) -> NoReturn:
    """Unpack, answer, and end."""
    order = json.loads(sys.stdin.buffer.readline())
    threading.Thread(target=_end_with_input, daemon=True).start()
    hold_back(MOST_MEMORY, MOST_CPU_S)
    sys.stdout.write(json.dumps(_unpacked(file, into, **order)))
    sys.stdout.flush()
    os._exit(0)  # the thread that waits for its input's end holds it: an orderly end would abort


def hold_back(most_memory: int, most_cpu_s: int) -> None:
    """Take little memory, go first where it runs out, and let everybody else have the processor before."""
    resource.setrlimit(resource.RLIMIT_DATA, (most_memory, most_memory))
    resource.setrlimit(resource.RLIMIT_CPU, (most_cpu_s, most_cpu_s))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    with suppress(OSError):
        Path("/proc/self/oom_score_adj").write_text(_FIRST_TO_GO, "ascii")
    os.nice(10)


def _unpacked(
    file: int,
    into: int,
    *,
    name: str,
    pixels: int,
    side: int,
    least: int,
    two_tones: bool,
    jpeg: dict[str, int] | None = None,
    fine: bool = False,
) -> dict[str, object]:
    """Write the greys of a picture row by row, or, where `jpeg` says how large it may become, a JPEG of them.

    A `fine` one keeps densities: its levels are sRGB whatever the file's were, and it is packed less.
    """
    from controller.errors import Unreadable
    from controller.unpack.greys import FINE, QUALITIES, Fit, as_srgb, jpeg_of, read_greys
    from controller.words import say

    try:
        with open(file, "rb") as picture, open(into, "wb", buffering=0) as out:
            picture.seek(0)
            greys = read_greys(picture, name, Fit(pixels, side), least=least, two_tones=two_tones)
            width, height, turned = greys.width, greys.height, greys.turned
            strips: Iterable[memoryview] = (memoryview(strip.tobytes()) for strip in greys.strips)
            if jpeg is not None:
                levels = as_srgb(greys.whole(), greys.coding) if fine else greys.whole()
                made, width, height = jpeg_of(levels, turned, **jpeg, qualities=FINE if fine else QUALITIES)
                strips, turned = (memoryview(made),), 1
            try:
                for strip in strips:
                    rest = strip
                    while rest:
                        rest = rest[out.write(rest) :]
            except OSError as problem:
                return {"full": problem.strerror or str(problem)}
    except Unreadable as refusal:
        return {"refused": str(refusal)}
    except MemoryError:
        return {"refused": say("unpack.memory", file=name)}
    return {"width": width, "height": height, "deep": greys.deep, "turned": turned, "coding": greys.coding}


def _end_with_input() -> None:
    sys.stdin.buffer.read()
    os._exit(1)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
