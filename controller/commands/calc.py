"""`treadle calc`: each reckoning by itself, its quantities given by flags."""

from __future__ import annotations

import re
from argparse import ArgumentParser, Namespace, _SubParsersAction
from typing import Any, Final

from controller.enlarger import reckon as of_enlarger
from controller.exposure import reckon as of_light
from controller.exposure.quantities import Answer
from controller.trays import development as of_trays
from controller.words import say

_POSITIONAL: Final = ("one", "two")
"""The two bands of “between” are given without flags."""
_QUANTITIES: Final = of_light.QUANTITIES | of_enlarger.QUANTITIES | of_trays.QUANTITIES
LESS_THAN_NONE: Final = re.compile(r"-[0-9.,]")
"""How a value begins that is no flag: “-1/3” stops, “-12,5” mm. argparse by itself knows “-12.5” alone."""
CARDS: Final = ("cover", "uncover", "window")


def add_arguments(commands: _SubParsersAction[Any]) -> None:
    """Add `calc` and its kinds to a command line; values stay text, so that the reckoning can refuse them in words."""
    parser: ArgumentParser = commands.add_parser("calc", help=say("reckoning.help-calc"))
    kinds = parser.add_subparsers(dest="calc", required=True)
    for kind, names in _QUANTITIES.items():
        one = kinds.add_parser(kind, help=say(f"reckoning.help-{kind}"))
        one._negative_number_matcher = LESS_THAN_NONE
        for name in names:
            flag = name.replace("_", "-")
            told = say(f"reckoning.flag-{kind}-{flag}")
            if name in _POSITIONAL:
                one.add_argument(name, help=told)
            elif name == "card":
                one.add_argument("--card", choices=CARDS, default=CARDS[0], help=told)
            else:
                one.add_argument(f"--{flag}", dest=name, metavar=flag.upper(), help=told)
        one.add_argument("--json", action="store_true", help=say("reckoning.help-json"))


def answer(args: Namespace) -> Answer:
    """Return the answer to a parsed `calc` command.

    Raises:
        ControllerError: one sentence with the flag, the value and the remedy.
    """
    given = vars(args)
    reckon = of_light.reckon
    if args.calc in of_enlarger.QUANTITIES:
        reckon = of_enlarger.reckon
    elif args.calc in of_trays.QUANTITIES:
        reckon = of_trays.reckon
    return reckon(args.calc, {name: given[name] for name in _QUANTITIES[args.calc]}, called)


def called(name: str) -> str:
    """Return what a quantity is called on the command line."""
    return "between" if name in _POSITIONAL else f"--{name.replace('_', '-')}"
