"""What a hostile or damaged sender puts where something sensible belongs: words, bytes, trees. All by a seeded dice."""

from __future__ import annotations

import copy
import json
import os
import random
import time
from typing import Any, Final

import pytest

MARK = "<unesc>"
"""Where it stands in a page as it is, whatever a sender writes can become part of the page."""
SPLIT = "\r\nX-Split: taken"
"""Where a header of that name comes back, a sender can write headers."""

WORDS = (
    *("", " ", "NaN", "-nan", "Infinity", "-inf", "1e308", "-1e308", "1e-400", "1e999999999", "-0", "0", "-1", "0.1"),
    *(
        "1,5",
        "1.",
        ".5",
        "+5",
        "1_0",
        "0x10",
        "1/0",
        "-1/3",
        "1 1/3",
        "1/" + "9" * 40,
        "2 0",
        "0 between",
        "24 between",
    ),
    *("9" * 16, "9" * 40, "9" * 4301, "9" * 20_000, str(2**31), str(2**63), str(-(2**63) - 1), "1" + "0" * 400),
    *("\u0661\u0662", "\u00b2", "\u00bd", "\u2162", "\u2212", "\uff11", "\x00", "a\x00b", "\x1b[31m", "\x9b1m", "\x7f"),
    *(
        "\u202ereversed",
        "\u2066x\u2069",
        "\ufeff",
        "\u200b",
        "e\u0301" * 60,
        "\U0001f4f7",
        "\ud800",
        "a\udfffb",
        "\r\n\r\n",
    ),
    *(MARK, f'"{MARK}', f"'{MARK}", f"</textarea>{MARK}", f"</script>{MARK}", f"--{MARK}", f"&{MARK};", f"x{SPLIT}"),
    *(
        "' OR 1=1 --",
        '"; DROP TABLE rows; --',
        "=1+1",
        "+1",
        "@x",
        "%s%n",
        "%00",
        "{{ 7 * 7 }}",
        "{0.__class__}",
        "$(id)",
    ),
    *(
        "../../../etc/passwd",
        "/etc/passwd",
        "..",
        ".",
        "//elsewhere.example/",
        "\\\\elsewhere",
        "http://elsewhere.example",
    ),
    *(
        "javascript:x",
        "con",
        "a/b",
        "a" * 200,
        "a" * 201,
        "\u00e9" * 3000,
        "x" * 70_000,
        "1 2\n" * 500,
        "10 10 90 90 " * 99,
    ),
    *(
        "true",
        "false",
        "null",
        "on",
        "[]",
        "{}",
        "soft",
        "hard",
        "both",
        "own",
        "none",
        "2.5",
        "10",
        "day",
        "dark",
        "wet",
    ),
)
"""What is typed where something else belongs."""

VALUES: tuple[Any, ...] = (
    *(None, True, False, 0, -1, 1, 0.1, -0.0, 1e308, -1e308, 5e-324, float("nan"), float("inf"), float("-inf")),
    *(10**18, 2**63, -(2**63) - 1, 10**40, "", " ", "NaN", "1/0", "1/3", "9" * 30, "9" * 4400, "\u0661", "\u00b2"),
    *("\x00", "\x1b]0;x\x07", "\u009b31m", "\u202e", "\ud800", "=1+1", MARK, "../../x", "/etc/passwd", "x" * 5000),
    *([], {}, [[]], [None], {"a": 1}, [1] * 300, "0001-01-01T00:00:00Z", "9999-12-31T23:59:59.999Z", "2025-02-30"),
    *("soft", "both", "treadle/recipe/1", "treadle/recipe/9", "treadle/paper/1", "treadle/settings/1"),
)
"""What stands in a file where something else belongs."""

_NAMES = ("", "x", "\x1b[31m", "\ud800", "format", "title", "light", "seconds", "k" * 3000)
_BITS = (
    b'"',
    b"[",
    b"{",
    b"\x00",
    b"9" * 5000,
    b"nan",
    b"1e400",
    b"\xed\xa0\x80",
    b"\r",
    b"[" * 3000,
    b"1979-13-99",
    b"'''",
)


_OF_THIS_RUN: Final = time.time_ns() % 10**9


def seed_of(request: pytest.FixtureRequest, short: int) -> int:
    """Return the seed of a test: the same in each short run, one of its own in each long; or that of FUZZ_SEED.

    A test that is played again has the seed that it failed with: another might hide what the first has found.
    """
    if named := os.environ.get("FUZZ_SEED"):
        return int(named)
    return _OF_THIS_RUN if request.node.get_closest_marker("long") else short


def word(dice: random.Random) -> str:
    """Return something to be typed."""
    roll = dice.random()
    if roll < 0.2:
        return "".join(
            dice.choice("abz 019.,-/%&<>\"'\\\n\t\u00e9\u2212\u00d7\u20ac") for _ in range(dice.randrange(1, 25))
        )
    if roll < 0.45:
        near = (dice.randrange(-3, 100), round(dice.uniform(-2, 200), dice.randrange(5)), dice.randrange(10**12))
        return str(dice.choice(near))
    return dice.choice(WORDS)


def hurt_bytes(data: bytes, dice: random.Random, most: int = 9) -> bytes:
    """Return data with a few bytes changed, lost or put in."""
    hurt = bytearray(data)
    for _ in range(dice.randint(1, most)):
        if not hurt:
            break
        at, roll = dice.randrange(len(hurt)), dice.random()
        if roll < 0.55:
            hurt[at] = dice.choice((dice.randrange(256), 0, 0xFF, ord('"'), ord(","), ord("\n")))
        elif roll < 0.75:
            del hurt[at : at + dice.randint(1, 20)]
        elif roll < 0.8:
            del hurt[at:]
        elif roll < 0.85:
            hurt[at:at] = hurt[max(0, at - 200) : at]
        else:
            hurt[at:at] = dice.choice(_BITS)
    return bytes(hurt)


def hurt_tree(tree: Any, dice: random.Random) -> Any:
    """Return a copy of a document's tree with one to three of its places made wrong."""
    tree = copy.deepcopy(tree)
    for _ in range(dice.choice((1, 1, 1, 2, 3))):
        places = list(_places(tree))
        if not places:
            return copy.deepcopy(dice.choice(VALUES))
        node, key = dice.choice(places)
        roll, value = dice.random(), copy.deepcopy(dice.choice(VALUES))
        if roll < 0.55:
            node[key] = value
        elif roll < 0.65 and isinstance(node, dict):
            del node[key]
        elif roll < 0.65:
            node.append(copy.deepcopy(node[key]))
        elif roll < 0.75 and isinstance(node, dict):
            node[dice.choice((*_NAMES, f"{key}s"))] = value
        elif roll < 0.9 and isinstance(node[key], int | float) and not isinstance(node[key], bool):
            node[key] = _near(node[key], dice)
        else:
            node[key] = dice.choice(
                ([copy.deepcopy(node[key])], {"x": copy.deepcopy(node[key])}, str(node[key])[:5000])
            )
    return tree


def _near(value: float, dice: random.Random) -> object:
    if isinstance(value, int) or abs(value) < 1e300:
        return dice.choice((-value, value * 1000, value + 1e-9 if abs(value) < 1e300 else value, str(value)[:4000], 0))
    return -value


def _places(node: Any) -> Any:
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in list(items):
        yield node, key
        yield from _places(value)


def written(tree: Any, dice: random.Random) -> bytes:
    """Return a tree as JSON, at times with a fault of writing in it."""
    text = json.dumps(tree, ensure_ascii=dice.random() < 0.7)
    roll = dice.random()
    if roll < 0.04:
        text = text.replace("0", "9" * dice.choice((20, 4400, 50_000)), 1)
    elif roll < 0.07:
        text = text.replace(":", ":" + "[" * dice.choice((50, 2000, 100_000)), 1)
    elif roll < 0.1:
        text = text.replace("{", '{"format": 1,', 1)
    elif roll < 0.13:
        text = text.replace("1", dice.choice(("1e999999999", "1E-999999999", "0x1", "01", "+1", ".5", "1_0")), 1)
    data = text.encode("utf-8", "surrogatepass")
    if roll > 0.85:
        data = hurt_bytes(data, dice)
    if dice.random() < 0.02:
        data = dice.choice((b"\xef\xbb\xbf", b"\xff\xfe", b"\x00")) + data
    return data


def pictures(modes: tuple[str, ...] = ("L", "RGB", "I;16", "1", "P", "RGBA")) -> list[bytes]:
    """Return small pictures of the kinds that are taken, in several modes, to be hurt."""
    import io

    from PIL import Image

    found = []
    for mode in modes:
        made = Image.linear_gradient("L").resize((48, 32)).convert("I" if mode == "I;16" else mode)
        if mode == "I;16":
            made = made.point(lambda level: level * 256).convert("I;16")
        for kind, more in (("PNG", {}), ("TIFF", {}), ("TIFF", {"compression": "tiff_lzw"}), ("JPEG", {})):
            if kind == "JPEG" and mode not in ("L", "RGB"):
                continue
            file = io.BytesIO()
            made.save(file, kind, **more)
            found.append(file.getvalue())
    return found
