"""What `treadle timing` may be told; apart from the measuring, so that other commands need not load it."""

from __future__ import annotations

from argparse import ArgumentParser

from controller.words import say


def add_arguments(parser: ArgumentParser) -> None:
    """Add what `timing` may be told."""
    parser.add_argument("--lights", type=int, default=200, help=say("timing.help-lights"))
    parser.add_argument("--seconds", type=float, default=0.25, help=say("timing.help-seconds"))
    parser.add_argument("--load", default="", metavar="cpu=2,pages=20", help=say("timing.help-load"))
    parser.add_argument("--compare", action="store_true", help=say("timing.help-compare"))
    parser.add_argument("--real-lines", action="store_true", help=say("timing.help-real-lines"))
