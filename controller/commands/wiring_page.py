"""The wiring file for people: an example to start from, and a page of the reference.

`python -m controller.commands.wiring_page` prints the page; both are made from `hardware.wiring_tables`
themselves.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Mapping
from typing import Final

from hardware.wiring_tables import HEADER, KEPT, NEEDED, TABLES, TAKEN, TOP, Key

_HEAD: Final = """\
# The wiring file

`wiring.toml` says which pin does what. It is looked for in the data folder (`--data`, or the default one), then, for
real wiring, as `/etc/treadle/wiring.toml`; the first that is there counts, and `treadle serve` and `treadle check` say
which it was. `treadle wiring` prints an example, and [the drawing](../how-to/build.md#the-low-voltage-side) has the
example's pins. Without a wiring file nothing real is driven, and nothing falls back to the practice darkroom.

`treadle serve` holds the file to every rule below before it touches a pin, and names file, key and remedy of each
thing that cannot be so. `treadle dark` reads it alike, but needs to know of lamps and outlets alone: what is wrong with
another pin keeps no lamp lit.

In the practice darkroom (`--simulate`) a `wiring.toml` in the practice data folder counts as well. Its pins mean
nothing there, and what it names is fitted in practice: two lamps, a changeover switch, the lid, the outlets, the LED.
So every option can be tried before anything is wired. USB pedals are not simulated.

## Rules

- Pins are GPIO numbers, 0 to 27, not positions on the header ([the table](#where-each-pin-is)); one pin, one use.
- Lamps, room light, safelight and alive pin are never on GPIO 0 to 8: these are pulled up from power-on until
  software speaks, so the lamp would be on before Treadle runs (GPIO table of the BCM2835 ARM Peripherals manual; the
  later chips start alike).
- Lamps and room light are active-high only: what lights when low lights whenever the Pi is off, starting or broken.
  Each also needs an external 10 kΩ pull-down and a normally-open contact.
- Refused always: GPIO 0 and 1, on which the Pi asks a plug-on board for its name.
- {taken}
- The foot switch has a contact, a USB pedal, or both; a missing pedal never blocks the wired contact.
- Mains belongs in a certified, enclosed switched outlet that is triggered by a low voltage. See [safety](../safety.md).

## Where each pin is

Positions on the 40-pin header. With the header along the right edge of the board and the USB sockets at the bottom,
position 1 is at the top of the inner row, and 2 beside it at the edge. Count twice: a wire one place off can be on 5 V.

{places}

Ground: {ground}. 3.3 V: 1 and 17. 5 V: 2 and 4; nothing of Treadle's inputs may ever touch these two.

## Keys
"""


def example() -> str:
    """Return a wiring file to start from: lamp, foot switch and sounder, the rest behind a #."""
    return "\n".join(_example()) + "\n"


def page() -> str:
    """Return the page of the reference."""
    taken = "; ".join(
        f"GPIO {', '.join(str(pin) for pin, use in TAKEN.items() if use == other)} {other}"
        for other in dict.fromkeys(TAKEN.values())
    )
    head = _HEAD.format(
        taken=f"Refused unless `force = true`: {taken}.",
        places="\n".join(_places()),
        ground="6, 9, 14, 20, 25, 30, 34, 39",
    )
    return f"{head}\n" + "\n".join(_tables()) + f"\n\n## Example\n\n```toml\n{example()}```\n"


def _places() -> Iterator[str]:
    """Yield the table of GPIO numbers and their places on the header, thirteen a row."""
    pins = [pin for pin in sorted(HEADER) if pin not in KEPT]
    rows = [pins[at : at + 13] for at in range(0, len(pins), 13)]
    for number, row in enumerate(rows):
        yield f"| GPIO | {' | '.join(str(pin) for pin in row)} |"
        if number == 0:
            yield f"| --- |{' --- |' * len(row)}"
        yield f"| header | {' | '.join(f'**{HEADER[pin]}**' for pin in row)} |"


def _tables() -> Iterator[str]:
    yield "### At the top of the file\n"
    yield from _rows(TOP)
    for name, table in TABLES.items():
        yield f"\n### `[{name}]`\n\n{table.says}\n"
        yield from _rows(table.keys)


def _rows(keys: Mapping[str, Key]) -> Iterator[str]:
    yield "| key | default | what it says |"
    yield "| --- | --- | --- |"
    for name, key in keys.items():
        yield f"| `{name}` | {_default(key.default)} | {key.says} |"


def _default(value: object) -> str:
    if value is NEEDED:
        return "needed"
    return "–" if value in (None, ()) else f"`{_toml(value)}`"


def _example() -> Iterator[str]:
    yield "# The wiring of a darkroom: which pin does what. Take the # away before what you have."
    for name, key in TOP.items():
        yield ""
        yield from _remark(key.says)
        yield f"# {name} = {_toml(0 if key.default is None else key.default)}"
    said: set[str] = set()
    for name, table in TABLES.items():
        yield ""
        yield from _remark(table.says)
        yield f"[{name}]" if table.used else f"# [{name}]"
        for inner, value in {**table.used, **table.offered}.items():
            words = table.keys[inner].says
            yield from _remark("" if words in said else words)
            said.add(words)
            place = f"  # header {HEADER[value]}" if inner.endswith("pin") and isinstance(value, int) else ""
            yield f"{'' if inner in table.used else '# '}{inner} = {_toml(value)}{place}"


def _remark(words: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(words, 100)]


def _toml(value: object) -> str:
    """Return a value as TOML; its numbers, texts, truths and lists are JSON's."""
    return json.dumps(value, ensure_ascii=False)


if __name__ == "__main__":
    print(page(), end="")
