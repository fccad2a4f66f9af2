"""The wiring file for people: an example to start from, and a page of the reference.

`python -m controller.commands.wiring_page` prints the page; both are made from the fields of
`controller.daemon.wiring` themselves.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from typing import Final

from pydantic_core import PydanticUndefined

from controller.daemon.wiring import TAKEN, Wiring, model_tables
from controller.model import Frozen
from controller.words import say

_IN_USE: Final[dict[str, dict[str, object]]] = {
    "lamp": {"pin": 17},
    "foot": {"pin": 27},
    "sounder": {"pin": 18},
}
"""What the example fits; the rest of it stands behind a #, to be taken in by whoever has it."""
_OFFERED: Final[dict[str, dict[str, object]]] = {
    "lamp_soft": {"pin": 17},
    "lamp_hard": {"pin": 22},
    "foot": {"open_pin": 24, "pedals": ["/dev/input/by-id/usb-a_pedal-event-kbd"]},
    "lid": {"pin": 23},
    "safelight": {"pin": 25, "active_high": True, "dark_while_lit": True},
    "room_light": {"pin": 26},
    "status_led": {"pin": 12, "active_high": True},
    "alive": {"pin": 13, "active_high": True},
    "relay": {"operate_ms": 8.0, "release_ms": 5.0},
}
_HEAD: Final = """\
# The wiring file

`wiring.toml` says which pin does what. It is looked for in the data folder (`--data`, or the default one), then, for
real lines, as `/etc/treadle/wiring.toml`; the first that is there counts, and `treadle serve` and `treadle check` say
which it was. `treadle wiring` prints an example. Without a wiring file nothing real is driven, and nothing falls back
to practice lines.

`treadle serve` holds the file to every rule below before it touches a line, and names file, key and remedy of each
thing that cannot be so. `treadle dark` reads it lightly: it wants to know the lamp's line and little more.

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
        f"GPIO {', '.join(str(pin) for pin, use in TAKEN.items() if use == key)} {say(key)}"
        for key in dict.fromkeys(TAKEN.values())
    )
    head = _HEAD.format(taken=f"Refused unless `force = true`: {taken}.")
    return f"{head}\n" + "\n".join(_tables()) + f"\n\n## Example\n\n```toml\n{example()}```\n"


def _tables() -> Iterator[str]:
    plain = [name for name in Wiring.model_fields if name not in dict(model_tables())]
    yield "### At the top of the file\n"
    yield from _rows(Wiring, plain)
    for name, model in model_tables():
        yield f"\n### `[{name}]`\n\n{Wiring.model_fields[name].description}\n"
        yield from _rows(model, list(model.model_fields))


def _rows(model: type[Frozen], names: list[str]) -> Iterator[str]:
    yield "| key | default | what it says |"
    yield "| --- | --- | --- |"
    for name in names:
        field = model.model_fields[name]
        yield f"| `{name}` | {_default(field.default)} | {field.description} |"


def _default(value: object) -> str:
    if value is PydanticUndefined:
        return "needed"
    return "–" if value in (None, ()) else f"`{_toml(value)}`"


def _example() -> Iterator[str]:
    plain = [name for name in Wiring.model_fields if name not in dict(model_tables())]
    yield "# The wiring of a darkroom: which pin does what. Take the # away before what you have."
    for name in plain:
        field = Wiring.model_fields[name]
        yield ""
        yield from _remark(field.description)
        yield f"# {name} = {_toml(0 if field.default is None else field.default)}"
    said: set[str] = set()
    for name, model in model_tables():
        used, offered = _IN_USE.get(name, {}), _OFFERED.get(name, {})
        yield ""
        yield from _remark(Wiring.model_fields[name].description)
        yield f"[{name}]" if used else f"# [{name}]"
        for key, value in {**used, **offered}.items():
            words = model.model_fields[key].description or ""
            yield from _remark("" if words in said else words)
            said.add(words)
            yield f"{'' if key in used else '# '}{key} = {_toml(value)}"


def _remark(words: str | None) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(words or "", 100)]


def _toml(value: object) -> str:
    """Return a value as TOML; its numbers, texts, truths and lists are JSON's."""
    return json.dumps(list(value) if isinstance(value, tuple) else value, ensure_ascii=False)


if __name__ == "__main__":
    print(page(), end="")
