"""The wiring file for people: an example to start from, and a page of the reference.

`python -m controller.commands.wiring_page` prints the page; both are made from `hardware.wiring_tables`
themselves.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Mapping
from typing import Final

from hardware.wiring_tables import NEEDED, TABLES, TAKEN, TOP, Key

_HEAD: Final = """\
# The wiring file

`wiring.toml` says which pin does what. It is looked for in the data folder (`--data`, or the default one), then, for
real lines, as `/etc/treadle/wiring.toml`; the first that is there counts, and `treadle serve` and `treadle check` say
which it was. `treadle wiring` prints an example. Without a wiring file nothing real is driven, and nothing falls back
to practice lines.

`treadle serve` holds the file to every rule below before it touches a line, and names file, key and remedy of each
thing that cannot be so. `treadle dark` reads it alike, but wants to know of lamps and outlets alone: what is wrong with
another line keeps no lamp lit.

In the practice darkroom (`--simulate`) a `wiring.toml` in the practice data folder counts as well: its pins mean
nothing there, and each line it names is fitted as a practice line: two lamps, a changeover switch, the lid, the
outlets, the LED. So every optional line can be tried before anything is wired. USB pedals are not simulated.

## Rules

- Pins are GPIO numbers, 0 to 27, not places on the header; one pin, one line.
- Lamps, room light, safelight and alive line are never on GPIO 0 to 8: these are pulled up from power-on until
  software speaks, so the line would be on before Treadle runs. (Default pulls: GPIO table of the BCM2835 peripherals
  manual, the same on the chips that followed; from memory.)
- Lamps and room light are active-high only: what lights when low lights whenever the Pi is off, starting or broken.
  Each also wants an external 10 k pull-down and a normally-open contact.
- Refused always: GPIO 0 and 1, on which the Pi asks a plug-on board for its name.
- {taken}
- The foot switch has a contact, a USB pedal, or both; a missing pedal never blocks the wired contact.
- Mains belongs in a listed, enclosed outlet box that is triggered by a low voltage. See [safety](../safety.md).

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
    head = _HEAD.format(taken=f"Refused unless `force = true`: {taken}.")
    return f"{head}\n" + "\n".join(_tables()) + f"\n\n## Example\n\n```toml\n{example()}```\n"


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
            yield f"{'' if inner in table.used else '# '}{inner} = {_toml(value)}"


def _remark(words: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(words, 100)]


def _toml(value: object) -> str:
    """Return a value as TOML; its numbers, texts, truths and lists are JSON's."""
    return json.dumps(value, ensure_ascii=False)


if __name__ == "__main__":
    print(page(), end="")
