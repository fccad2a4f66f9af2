"""Picture files read as greys: in strips what Pillow makes of the whole, smaller where asked, or refused.

PNGs of every filter, depth and colour are written here row by row (ISO/IEC 15948); Pillow's own reading of the whole
file is the judge of what is read in strips.
"""

from __future__ import annotations

import io
import struct
import zlib
from contextlib import suppress

import numpy as np
import pytest
from PIL import Image
from PIL.JpegImagePlugin import JpegImageFile
from tools.pictures import jpeg, png, random_png, tiff

from controller.errors import Unreadable
from controller.unpack import greys, png_strips, tiff_strips
from controller.unpack.greys import Fit, levels_of, png_of, read_greys

AS_IT_IS = Fit(60_000_000, 20_000)
KINDS = [(0, 1), (0, 2), (0, 4), (0, 8), (0, 16), (2, 8), (2, 16), (3, 1), (3, 4), (3, 8), (4, 8), (4, 16)]
KINDS += [(6, 8), (6, 16)]


def _strict(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have everything read in strips, and these of a few rows."""
    monkeypatch.setattr(greys, "MOST_WHOLE", 0)
    monkeypatch.setattr(png_strips, "STRIP_PIXELS", 700)
    monkeypatch.setattr(tiff_strips, "STRIP_PIXELS", 700)


def _read(content: bytes, fit: Fit = AS_IT_IS) -> np.ndarray:
    return read_greys(io.BytesIO(content), "mine.png", fit).whole()


def _by_pillow(content: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(content)) as picture:
        return levels_of(picture)


@pytest.mark.parametrize(("colour", "bits"), KINDS)
def test_a_png_in_strips_is_the_whole_one(colour: int, bits: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows of every filter, depth and colour come out of strips as out of the whole, which Pillow reads."""
    _strict(monkeypatch)
    content = random_png(101, 67, colour, bits)
    found = _read(content)
    wanted = _by_pillow(content)
    if (colour, bits) == (4, 16):  # here the lower bits are kept as well
        found = found // 256 * 257
    assert np.array_equal(found, wanted)


@pytest.mark.parametrize("mode", ["L", "RGB", "RGBA", "I;16", "P", "1"])
@pytest.mark.parametrize("packing", [None, "tiff_lzw", "tiff_adobe_deflate", "packbits"])
def test_a_tiff_in_strips_is_the_whole_one(mode: str, packing: str | None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Strips of every usual packing come out one by one as out of the whole, which Pillow reads."""
    content = tiff(mode, 301, 607, packing)
    wanted = _by_pillow(content)
    _strict(monkeypatch)
    monkeypatch.setattr(greys, "MOST_AT_ONCE", 301 * 607)
    assert np.array_equal(_read(content), wanted)


def test_big_endian_and_predicted_tiffs_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """A TIFF whose numbers begin with the large end, and one whose rows are differences, are read in strips."""
    plain = tiff("I;16B", 301, 607, None)
    differences = tiff("RGB", 301, 607, "tiff_lzw", predictor=2)
    wanted = [_by_pillow(each) for each in (plain, differences)]
    _strict(monkeypatch)
    for content, whole in zip((plain, differences), wanted, strict=True):
        assert np.array_equal(_read(content), whole)


@pytest.mark.parametrize("step", [2, 3, 7])
@pytest.mark.parametrize("size", [(90, 60), (91, 59), (5, 100)])
def test_smaller_is_the_mean_of_squares(size: tuple[int, int], step: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each level of a smaller picture is the mean of a square of the large one's, at its far edges of what is there."""
    _strict(monkeypatch)
    monkeypatch.setattr(Fit, "step", lambda *_: step)
    content = random_png(*size, 0, 16)
    whole = _by_pillow(content).astype(np.float64)
    found = _read(content)
    assert found.shape == (-(-size[1] // step), -(-size[0] // step))
    for row in range(found.shape[0]):
        for column in range(found.shape[1]):
            square = whole[row * step : (row + 1) * step, column * step : (column + 1) * step]
            assert found[row, column] == pytest.approx(square.mean(), abs=0.51)


def test_a_fit_is_kept_to() -> None:
    """Neither pixels nor the longer side come out larger than asked for, but for what the last odd pixel makes."""
    for width, height in ((7500, 8000), (3001, 3000), (20_000, 3000), (1199, 1), (1201, 8)):
        step = Fit(9_000_000, 20_000).step(width, height)
        assert width * height / step**2 <= 9_000_000
        assert -(-max(width, height) // Fit(1200**2, 1200).step(width, height)) <= 1200


@pytest.mark.parametrize("mode", ["L", "RGB", "CMYK"])
def test_a_jpeg_is_drafted(mode: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A JPEG that is to be smaller is asked for greys of a half, a quarter or an eighth, before it is unpacked."""
    asked: list[tuple[str, tuple[int, int]]] = []
    draft = JpegImageFile.draft

    def watched(picture: JpegImageFile, *wanted: object) -> None:
        draft(picture, *wanted)
        asked.append((picture.mode, picture.size))

    content = jpeg(mode, 1600, 1200)
    monkeypatch.setattr(JpegImageFile, "draft", watched)
    small = _read(content, Fit(160_000, 20_000))
    assert asked == [("CMYK" if mode == "CMYK" else "L", (400, 300))]
    assert small.shape == (300, 400)
    assert small.mean() == pytest.approx(_by_pillow(content).mean(), rel=0.02)


@pytest.mark.parametrize("way", range(1, 9))
def test_how_it_lies_is_told(way: int) -> None:
    """What EXIF says of how a picture lies comes with it; a TIFF is turned already."""
    exif = Image.Exif()
    exif[0x0112] = way
    for kind in ("JPEG", "PNG"):
        out = io.BytesIO()
        Image.new("L", (40, 20)).save(out, kind, exif=exif)
        assert read_greys(io.BytesIO(out.getvalue()), "mine", AS_IT_IS).turned == way
    out = io.BytesIO()
    Image.new("L", (40, 20)).save(out, "TIFF", exif=exif)
    assert read_greys(io.BytesIO(out.getvalue()), "mine", AS_IT_IS).turned == 1


def test_what_is_too_large_is_refused_by_its_head(monkeypatch: pytest.MonkeyPatch) -> None:
    """Too many pixels, too long a side, or too much at once: refused in a sentence before anything is unpacked."""
    monkeypatch.setattr(Image.Image, "load", lambda _: pytest.fail("unpacked"))
    for content, words in (
        (png(7_600, 8_000, 0, 1, rows=b""), "more than 60 million pixels"),
        (png(1, 20_001, 0, 8, rows=b""), "side of more than 20000"),
        (png(8_000, 7_000, 6, 8, rows=b"", interlaced=True), "only be unpacked as a whole"),
        (png(40, 3, 0, 8, rows=b""), "at least 8 pixels"),
    ):
        with pytest.raises(Unreadable, match=words):
            read_greys(io.BytesIO(content), "mine.png", AS_IT_IS, least=8)


def test_a_progressive_jpeg_is_no_larger_than_what_comes_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A progressive JPEG lies whole in memory however small it is to be: it is refused above the limit for that."""
    content = jpeg("RGB", 400, 300, progressive=True)
    assert _read(content, Fit(10_000, 20_000)).shape == (75, 100)
    monkeypatch.setattr(greys, "MOST_AT_ONCE", 400 * 300 - 1)
    with pytest.raises(Unreadable, match="progressive"):
        _read(content, Fit(10_000, 20_000))


def test_two_tones_and_broken_numbers_are_no_greys() -> None:
    """Black and white alone is refused where greys are wanted, and a picture of fractions everywhere."""
    two = png(20, 20, 0, 1)
    assert set(np.unique(_read(two))) <= {0, 65535}
    with pytest.raises(Unreadable, match="8 or 16 bit grey"):
        read_greys(io.BytesIO(two), "mine.png", AS_IT_IS, two_tones=False)
    out = io.BytesIO()
    Image.new("F", (20, 20)).save(out, "TIFF")
    with pytest.raises(Unreadable, match="8 or 16 bit grey"):
        _read(out.getvalue())


@pytest.mark.parametrize("kind", ["GIF", "BMP", "PPM", "WEBP", "TGA", "PCX"])
def test_other_formats_are_none(kind: str) -> None:
    """Only PNG, JPEG and TIFF are opened: no other decoder ever sees what was brought."""
    out = io.BytesIO()
    Image.new("L", (20, 20)).save(out, kind)
    with pytest.raises(Unreadable, match="no picture"):
        _read(out.getvalue())


def test_damage_is_told_wherever_it_lies(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file cut off or changed at any place is refused in a sentence, or read: nothing else is raised."""
    chance = np.random.default_rng(3)
    for strict in (False, True):
        if strict:
            _strict(monkeypatch)
        for content in (
            random_png(60, 40, 6, 16),
            random_png(60, 40, 3, 4),
            tiff("RGB", 60, 40, "tiff_lzw"),
            tiff("L", 60, 40, None),
            jpeg("RGB", 60, 40),
        ):
            for _ in range(40):
                damaged = bytearray(content)
                for at in chance.integers(0, len(content), 3):
                    damaged[at] = int(chance.integers(0, 256))
                with suppress(Unreadable):
                    _read(bytes(damaged[: chance.integers(len(content) // 2, len(content) + 1)]))


def test_a_strip_that_inflates_without_end_is_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a PNG that inflates to far more than its head says, no more is inflated than its rows have."""
    _strict(monkeypatch)
    content = png(10, 10, 0, 8, rows=bytes(20_000_000))
    assert np.array_equal(_read(content), np.zeros((10, 10)))
    asked: list[int] = []
    real = zlib.decompressobj

    class Watched:
        def __init__(self) -> None:
            self._real = real()

        def decompress(self, piece: bytes, most: int) -> bytes:
            found = self._real.decompress(piece, most)
            asked.append(len(found))
            return found

        @property
        def unconsumed_tail(self) -> bytes:
            return self._real.unconsumed_tail

    monkeypatch.setattr("controller.unpack.png_strips.zlib.decompressobj", Watched)
    _read(content)
    assert sum(asked) == 10 * 11


def test_a_damaged_checksum_is_damage(monkeypatch: pytest.MonkeyPatch) -> None:
    """A chunk of a PNG whose checksum does not fit is not taken for the picture."""
    _strict(monkeypatch)
    content = bytearray(random_png(60, 40, 2, 8))
    at = content.index(b"IDAT")
    length = struct.unpack(">I", content[at - 4 : at])[0]
    content[at + 4 + length] ^= 1
    with pytest.raises(Unreadable, match="no picture"):
        _read(bytes(content))


def test_a_png_of_greys_keeps_their_depth() -> None:
    """Greys written as a PNG are the same when they are read again, in 16 bits and in 8."""
    levels = np.arange(0, 65536, 257, dtype=np.uint16).reshape(16, 16)
    for deep in (True, False):
        again = read_greys(io.BytesIO(png_of(levels, deep=deep)), "mine", AS_IT_IS)
        assert again.deep is deep
        assert np.array_equal(again.whole(), levels)
