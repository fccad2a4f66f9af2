"""Picture files, small and huge: PNGs written row by row, so that a huge one takes no memory here; JPEGs and TIFFs."""

from __future__ import annotations

import io
import struct
import zlib
from typing import Any

import numpy as np
from PIL import Image

PARTS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}


def chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def row_bytes(width: int, colour: int, bits: int) -> int:
    return (width * PARTS[colour] * bits + 7) // 8


def png(
    width: int,
    height: int,
    colour: int,
    bits: int,
    *,
    rows: bytes | None = None,
    filtered: int = 0,
    interlaced: bool = False,
) -> bytes:
    """A PNG whose rows are all the same, or as given with their filters before them."""
    head = struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, int(interlaced))
    palette = chunk(b"PLTE", bytes((7 * at) % 256 for at in range(3 * 2**bits))) if colour == 3 else b""
    packer = zlib.compressobj(1)
    if rows is None:
        row = (
            bytes([filtered])
            + (b"\x12\x34" * (row_bytes(width, colour, bits) // 2 + 1))[: row_bytes(width, colour, bits)]
        )
        body = b"".join(packer.compress(row) for _ in range(height))
    else:
        body = packer.compress(rows)
    body += packer.flush()
    parts = (chunk(b"IHDR", head), palette, chunk(b"IDAT", body), chunk(b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def random_png(width: int, height: int, colour: int, bits: int, seed: int = 1) -> bytes:
    """A PNG of bytes by chance, each row with a filter by chance."""
    chance, long = np.random.default_rng(seed), row_bytes(width, colour, bits)
    rows = b"".join(bytes([int(chance.integers(0, 5))]) + chance.bytes(long) for _ in range(height))
    return png(width, height, colour, bits, rows=rows)


def _drawn(mode: str, width: int, height: int) -> Image.Image:
    grey = np.random.default_rng(2).integers(0, 40, (height, width)) + np.linspace(0, 200, width)[None, :]
    byte = grey.astype(np.uint8)
    match mode:
        case "I;16" | "I;16B":
            deep = (grey * 250).astype(np.uint16)
            return Image.fromarray(deep.astype(">u2") if mode == "I;16B" else deep)
        case "RGB" | "RGBA" | "CMYK":
            return Image.fromarray(np.dstack([byte, byte // 2, 255 - byte, byte][: 3 if mode == "RGB" else 4]), mode)
        case "P":
            return _drawn("RGB", width, height).quantize(64)
    return Image.fromarray(byte).convert(mode)


def tiff(mode: str, width: int, height: int, packing: str | None, *, predictor: int = 1) -> bytes:
    out = io.BytesIO()
    more: dict[str, Any] = {"tiffinfo": {317: predictor}} if predictor != 1 else {}
    _drawn(mode, width, height).save(out, "TIFF", compression=packing, **more)
    return out.getvalue()


def jpeg(mode: str, width: int, height: int, **more: Any) -> bytes:
    out = io.BytesIO()
    smooth = np.linspace(0, 255, width)[None, :] * np.ones((height, 1))
    Image.fromarray(smooth.astype(np.uint8)).convert(mode).save(out, "JPEG", **more)
    return out.getvalue()
