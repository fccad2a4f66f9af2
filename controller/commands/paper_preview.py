"""`treadle paper preview`: a scan of a negative as the print that a paper would give, as a picture and figures."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace, _SubParsersAction
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryFile
from typing import TYPE_CHECKING, Any, Final

from controller.errors import Impossible, Unreadable
from controller.exposure.decimals import decimal_within
from controller.exposure.quantities import Answer
from controller.exposure.stops import parse_more_stops, shown
from controller.files import write_out
from controller.paper.libraries import missing_libraries
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.paper import Paper
    from controller.preview.orders import Order, Shown, Tie

GRID_PIXELS: Final = 320
"""Along the longer side of each print of a grid."""
MOST_STOPS: Final = Fraction(2)
"""From one print of a grid to the next."""
LEAST_PIXELS: Final = 8
"""That each side of a scan must have."""


class PreviewAnswer(Answer):
    """What the print would be like; of a grid, the one in its middle."""

    mean_density: float
    paper_white_share: float
    """Of the picture, 0 to 1."""
    black_share: float
    doubt: float
    """What a print density is usually off by."""
    polarity: str
    factor: float
    """The film's contrast against the scan's: near 1 for a plain scan."""
    width: int
    height: int
    plain: str
    """The one sentence a printer sees first."""
    advice: tuple[str, ...]

    def lines(self) -> tuple[str, ...]:
        """Return the figures, then how far to trust them."""
        shares = (f"{100 * each:.0f}" for each in (self.paper_white_share, self.black_share))
        white, black = shares
        return (
            say("preview.figures", mean=f"{self.mean_density:.2f}", white=white, black=black),
            say(f"preview.read-{self.polarity}", factor=f"{self.factor:.2f}"),
            say("preview.doubt", doubt=f"{self.doubt:.2f}"),
            self.plain,
            *self.advice,
        )


def add_preview(kinds: _SubParsersAction[Any]) -> ArgumentParser:
    """Add `preview` to the kinds of `treadle paper`, and return its parser."""
    preview: ArgumentParser = kinds.add_parser("preview", help=say("preview.command-help"))
    preview.add_argument("paper", type=Path, metavar="PAPER.json", help=say("paper.command-help-kept"))
    preview.add_argument("scan", type=Path, metavar="SCAN", help=say("preview.command-help-scan"))
    preview.add_argument(
        "--tie", action="append", required=True, metavar="X,Y=DENSITY", help=say("preview.command-help-tie")
    )
    preview.add_argument("--soft", default="0", metavar="SECONDS", help=say("paper.command-help-soft"))
    preview.add_argument("--hard", default="0", metavar="SECONDS", help=say("paper.command-help-hard"))
    preview.add_argument("--picture", type=Path, required=True, metavar="PNG", help=say("preview.command-help-picture"))
    preview.add_argument("--grid", metavar="STOPS", help=say("preview.command-help-grid"))
    return preview


def preview_answer(args: Namespace, paper: Paper) -> PreviewAnswer:
    """Write the picture of a print that was not made, and return its figures.

    Raises:
        Unreadable, Impossible: one sentence with what to do; nothing is written.
        OSError: a file cannot be read or written.
    """
    from controller.paper.support import trust
    from controller.preview.lights import of_pair, round_a_pair
    from controller.preview.orders import MOST_SIDE, Order

    if missing := missing_libraries():
        raise Impossible(say("preview.libraries", names=missing))
    soft, hard = (_seconds(text, option) for text, option in ((args.soft, "--soft"), (args.hard, "--hard")))
    if not soft and not hard:
        raise Unreadable(say("paper.command-no-light"))
    pairs = [(soft, hard)]
    if args.grid is not None:
        pairs = [pair for row in round_a_pair((soft, hard), _stops(args.grid)) for pair in row]
    order = Order(
        paper=paper,
        ties=tuple(_tie(text) for text in args.tie),
        prints=tuple(of_pair(*map(float, pair)) for pair in pairs),
        side=MOST_SIDE if args.grid is None else GRID_PIXELS,
    )
    picture, shown = _rendered(order, args.scan)
    write_out(args.picture, picture, args.paper, args.scan)
    _, plain, advice = trust(paper, (float(soft), float(hard)), [tie.density for tie in order.ties])
    return PreviewAnswer(
        **{name: getattr(shown, name) for name in PreviewAnswer.model_fields if name not in ("plain", "advice")},
        plain=plain,
        advice=(*advice, *(() if shown.plain else (say("preview.not-plain", factor=f"{shown.factor:.2f}"),))),
    )


def _rendered(order: Order, scan: Path) -> tuple[bytes, Shown]:
    """Unpack a scan, by a process of its own, and return what an order makes of it."""
    import numpy as np

    from controller.preview.easel_map import may_be_ties, tied
    from controller.preview.orders import MOST_SIDE
    from controller.preview.prints import render
    from controller.unpack.greys import Fit, upright
    from controller.unpack.unpacker import Unpacker

    may_be_ties(order.ties)
    with scan.open("rb") as file, TemporaryFile() as into:
        fit = Fit(MOST_SIDE**2, MOST_SIDE)
        came = Unpacker(lambda: False).unpack(file, scan.name, fit, into, least=LEAST_PIXELS, two_tones=False)
        into.seek(0)
        levels = np.frombuffer(into.read(), np.uint16).reshape(came.height, came.width)
    return render(order, tied(upright(levels, came.turned), came.coding, order.ties))


def _tie(text: str) -> Tie:
    from controller.preview.orders import Tie

    place, equals, density = text.partition("=")
    x, comma, y = place.partition(",")
    if not equals or not comma:
        raise Unreadable(say("preview.command-tie", found=shown(text)))
    numbers = [decimal_within(each, -1000.0, 1000.0) for each in (x, y)]
    known = decimal_within(density, 0.0, 6.0)
    if None in numbers or known is None:
        raise Unreadable(say("preview.command-tie", found=shown(text)))
    across, down = (float(each) for each in numbers if each is not None)
    return Tie(x=across, y=down, density=float(known))


def _seconds(text: str, option: str) -> Decimal:
    value = decimal_within(text, 0.0, 3600.0)
    if value is None:
        raise Unreadable(say("paper.command-number", option=option, found=shown(text), least="0", most="3600"))
    return value


def _stops(text: str) -> Fraction:
    try:
        stops = parse_more_stops(text)
    except Impossible:
        stops = MOST_STOPS + 1
    if stops > MOST_STOPS:
        raise Unreadable(say("preview.command-grid", found=shown(text), most=MOST_STOPS))
    return stops
