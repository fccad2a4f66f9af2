"""Malformed and extreme messages for a keeper's pipe, by a seeded dice, and what of its light is then out of plan."""

from __future__ import annotations

import json
import random
from collections.abc import Iterable
from typing import Any

from hardware.errors import WireError
from hardware.wire import Order
from hardware.wire_json import LONGEST_LINE, decode
from tools.hostile import hurt_bytes, hurt_tree, written

MS = 1_000_000
ODD: tuple[Any, ...] = (
    *(0, -1, 1, 2**31, 2**63 - 1, 2**63, -(2**63), 10**30, 10**400, True, None, 1.5, float("nan"), float("inf")),
    *(
        "",
        "a" * 64,
        "a" * 65,
        "\u00e9" * 33,
        "\ud800",
        "\x00",
        [],
        {},
        [[0, "beat"]],
        [[0, "nope"]],
        [[2**70, "beat"]] * 50,
    ),
    *([[0, "tick"]] * 900, "page", "lamp", "step", "focus"),
)
OTHERS: tuple[dict[str, Any], ...] = (
    *({"m": "stop", "why": "page"}, {"m": "sound", "cue": "beat", "count": 3}, {"m": "sheetopen", "open": True}),
    *(
        {"m": "roomlight", "on": True},
        {"m": "roomlight", "on": False},
        {"m": "lit", "id": "x", "at_ns": 1},
        {"m": "greeting"},
    ),
    *({"m": "dark", "id": "x", "on_ns": 1, "dark_ns": 2, "why": "complete"}, {"m": "accepted", "id": "x"}),
)


def order(dice: random.Random, number: int, now_ns: int, seq: int) -> dict[str, Any]:
    """Return an order that a daemon could have sent."""
    return {
        "m": "order",
        "id": f"order-{number}",
        "kind": dice.choice(("step", "step", "step", "focus", "check")),
        "sheet": "s",
        "step": 1,
        "part": 0,
        "lamp": "lamp",
        "foot_seq": seq,
        "start_ns": now_ns + dice.choice((1300, 1500, 2000)) * MS,
        "lit_ms": dice.choice((1, 50, 100, 200, 400)),
        "cues": [[0, "beat"]] if dice.random() < 0.2 else [],
    }


def line(dice: random.Random, number: int, now_ns: int, seq: int) -> bytes:
    """Return one line for the pipe, its end included: seldom as it must be, mostly not."""
    good = order(dice, number, now_ns, seq)
    roll = dice.random()
    if roll < 0.12:
        return json.dumps(good).encode() + b"\n"
    of_another = ({"m": "cancel", "id": f"order-{number - 1}"}, {"m": "lease", "id": f"order-{number - 1}"})
    tree = dict(dice.choice((good, good, *of_another, *OTHERS)))
    if roll < 0.2:
        return json.dumps(tree).encode() + b"\n"
    if roll < 0.7:
        tree[dice.choice(list(tree))] = dice.choice(ODD)
        if dice.random() < 0.15:
            tree[dice.choice(("more", "m", "at_ns", ""))] = dice.choice(ODD)
        said = json.dumps(tree).encode()
    elif roll < 0.85:
        said = written(hurt_tree(tree, dice), dice)
    elif roll < 0.97:
        said = hurt_bytes(json.dumps(tree).encode(), dice)
    else:
        said = dice.choice(
            (b"", b"\n", b"wake", b"x" * (LONGEST_LINE + 5), b"[" * 30_000, b"\x00" * 99, b"x" * 200_000)
        )
    return said + (b"\n" if dice.random() < 0.98 else b"")


def orders_in(lines: Iterable[bytes]) -> dict[str, list[Order]]:
    """Return every order that can be read in what was sent, by its id."""
    found: dict[str, list[Order]] = {}
    for each in b"".join(lines).split(b"\n"):
        try:
            message = decode(each)
        except WireError:
            continue
        if isinstance(message, Order):
            found.setdefault(message.id, []).append(message)
    return found


def out_of_plan(
    orders: dict[str, list[Order]], lights: Iterable[tuple[str, int, int]], rest_wait_ms: int, late_ms: float = 0.0
) -> list[str]:
    """Return the lights (order's id, on, dark) that no order wanted so: begun too early or late, or too long."""
    wrong = []
    for id_, on_ns, dark_ns in lights:
        fits = [
            wanted
            for wanted in orders.get(id_, ())
            if -late_ms * MS <= on_ns - wanted.start_ns <= (rest_wait_ms + late_ms) * MS
            and dark_ns - on_ns <= (wanted.lit_ms + late_ms) * MS
        ]
        if not fits:
            wrong.append(f"light {id_!r} from {on_ns} to {dark_ns}, ordered {orders.get(id_)}")
    return wrong
