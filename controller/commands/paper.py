"""`treadle paper`: curves, fits, predictions and split-grade times from a file of readings.

Only this module's own arguments are read at start-up; the reckoning, and numpy with it, load when a command runs.
"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace, _SubParsersAction
from decimal import Decimal
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from controller import wall
from controller.commands import paper_readings
from controller.commands.calc import LESS_THAN_NONE
from controller.commands.paper_answers import (
    CurveAnswer,
    ExposureAnswer,
    FitAnswer,
    HalfTwelfths,
    OutOfReachAnswer,
    PredictAnswer,
    SoftHardAnswer,
    StoppedShortAnswer,
    Times,
    Tones,
    VerdictAnswer,
)
from controller.commands.paper_preview import add_preview, preview_answer
from controller.errors import Impossible, Unreadable
from controller.exposure.decimals import decimal_within
from controller.exposure.quantities import Answer
from controller.exposure.stops import shown
from controller.files import read_start, write_out
from controller.recipe.fields import LARGEST_BYTES
from controller.recipe.versioned import in_file
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.iso import IsoFigures
    from controller.paper.paper import Paper
    from controller.paper.readings import Exposure, Readings
    from controller.paper.solver import Pair, Tone

_MOST_TONES: Final = 10_000
_MOST_CALLIER: Final = 1.6
"""No condenser adds more; a figure over it is another figure, typed in the wrong place."""


def add_arguments(commands: _SubParsersAction[Any]) -> None:
    """Add `paper` and its kinds to a command line."""
    paper: ArgumentParser = commands.add_parser("paper", help=say("paper.command-paper"))
    kinds = paper.add_subparsers(dest="kind", required=True, metavar=say("paper.command-kind"))

    curve = kinds.add_parser("curve", help=say("paper.command-help-curve"))
    curve.add_argument("readings", type=Path, metavar="READINGS.csv", help=say("paper.command-help-readings"))
    curve.add_argument("--lux-seconds", metavar="LUX_S", help=say("paper.command-help-lux"))
    fit = kinds.add_parser("fit", help=say("paper.command-help-fit"))
    fit.add_argument("readings", type=Path, metavar="READINGS.csv", help=say("paper.command-help-readings"))
    fit.add_argument("--out", type=Path, required=True, metavar="PAPER.json", help=say("paper.command-help-out"))
    predict = kinds.add_parser("predict", help=say("paper.command-help-predict"))
    predict.add_argument("paper", type=Path, metavar="PAPER.json", help=say("paper.command-help-kept"))
    predict.add_argument("--soft", default="0", metavar="SECONDS", help=say("paper.command-help-soft"))
    predict.add_argument("--hard", default="0", metavar="SECONDS", help=say("paper.command-help-hard"))
    predict.add_argument("--negative", required=True, metavar="DENSITIES", help=say("paper.command-help-negative"))
    split = kinds.add_parser("soft-hard", help=say("paper.command-help-soft-hard"))
    split.add_argument("paper", type=Path, metavar="PAPER.json", help=say("paper.command-help-kept"))
    split.add_argument("--light", required=True, metavar="NEGATIVE=PRINT", help=say("paper.command-help-light"))
    split.add_argument("--dark", required=True, metavar="NEGATIVE=PRINT", help=say("paper.command-help-dark"))
    split.add_argument("--callier", default="1", metavar="Q", help=say("paper.command-help-callier"))
    split.add_argument("--flash", metavar="SECONDS", help=say("paper.command-help-flash"))
    split.add_argument(
        "--flash-filter", choices=("soft", "hard"), default="soft", help=say("paper.command-help-flash-filter")
    )
    verdict = kinds.add_parser("verdict", help=say("paper.command-help-verdict"))
    verdict.add_argument("paper", type=Path, metavar="PAPER.json", help=say("paper.command-help-kept"))
    verdict.add_argument("--soft", required=True, metavar="SECONDS", help=say("paper.command-help-had-soft"))
    verdict.add_argument("--hard", required=True, metavar="SECONDS", help=say("paper.command-help-had-hard"))
    verdict.add_argument("--light", required=True, metavar="NEGATIVE=PRINT", help=say("paper.command-help-light"))
    verdict.add_argument("--dark", required=True, metavar="NEGATIVE=PRINT", help=say("paper.command-help-dark"))
    verdict.add_argument("--looked-light", required=True, metavar="WORDS", help=say("paper.command-help-looked-light"))
    verdict.add_argument("--looked-dark", required=True, metavar="WORDS", help=say("paper.command-help-looked-dark"))
    preview, readings = add_preview(kinds), paper_readings.add_arguments(kinds)
    for each in (curve, fit, predict, split, verdict, preview, readings):
        each._negative_number_matcher = LESS_THAN_NONE
        each.add_argument("--json", action="store_true", help=say("paper.command-help-json"))


def answer(args: Namespace) -> Answer:
    """Return what `treadle paper` was asked.

    Raises:
        Unreadable, Impossible: one sentence with what to do.
        OSError: a file cannot be read or written.
    """
    try:
        import_module("scipy")
    except ImportError:
        raise Impossible(say("paper.command-no-scipy")) from None
    match args.kind:
        case "curve":
            return curve_answer(args.readings, args.lux_seconds)
        case "fit":
            return fit_answer(args.readings, args.out)
        case "predict":
            return predict_answer(args.paper, args.soft, args.hard, args.negative)
        case "preview":
            return preview_answer(args, _paper(args.paper))
        case "verdict":
            said = args.looked_light, args.looked_dark
            return verdict_answer(args.paper, (args.soft, args.hard), (args.light, args.dark), said)
        case "readings":
            return paper_readings.readings_answer(_paper(args.paper), args.reference, args.spot, args.offset)
    return soft_hard_answer(args.paper, args.light, args.dark, args.callier, args.flash, args.flash_filter)


def curve_answer(readings: Path, lux_seconds: str | None) -> CurveAnswer:
    """Return the curve of every exposure in a file of readings."""
    from controller.paper.curve import draw
    from controller.paper.faults import look_over
    from controller.paper.iso import figures
    from controller.paper.readings import read_csv, shown_seconds

    light = None if lux_seconds is None else _number(lux_seconds, "--lux-seconds", 1e-3, 1e6)
    exposures = []
    for each in read_csv(read_start(readings, LARGEST_BYTES), readings.name):
        for exposure in each.exposures:
            faults = tuple(fault.sentence for fault in look_over(exposure))
            with in_file(readings.name):
                found = figures(draw(exposure))
            if found is None:
                problem = " ".join(faults) or say("paper.curve-short", light=shown_seconds(exposure))
                raise Impossible(say("recipe.value-wrong", file=readings.name, problem=problem))
            exposures.append(_exposure(each.paper, exposure, found, light, faults))
    return CurveAnswer(exposures=tuple(exposures))


def fit_answer(readings: Path, out: Path) -> FitAnswer:
    """Fit the paper of a file of readings, and write it."""
    from controller.paper.faults import look_over
    from controller.paper.fit import fit, high_residuals
    from controller.paper.paper import Box, write_paper
    from controller.paper.support import NONE, ROUGH, off_words, overall

    whole = _one_paper(readings)
    with in_file(readings.name):
        paper = fit(whole, Box(dated=wall.now().date()))
    spread, strip = overall(paper)
    said = [fault.sentence for exposure in whole.exposures for fault in look_over(exposure)]
    high = high_residuals(paper)
    said += [high] if high is not None else []
    if spread > ROUGH and strip is not None:
        said.append(say("paper.unsupported" if spread > NONE else "paper.rough", strip=strip.sentence))
    write_out(out, write_paper(paper).encode(), readings)
    return FitAnswer(
        paper=paper.name,
        version=paper.version,
        file=str(out),
        rms_density=round(paper.rms_density, 4),
        worst_density=round(paper.worst_density, 4),
        usual_spread=round(spread, 4),
        plain=off_words(spread),
        advice=tuple(said),
    )


def predict_answer(file: Path, soft: str, hard: str, negative: str) -> PredictAnswer:
    """Return what a kept paper makes of soft and hard seconds through densities of a negative."""
    from controller.paper.emulsions import densities, mixture
    from controller.paper.iso import range_of, stated
    from controller.paper.support import trust

    paper = _paper(file)
    seconds = (_number(soft, "--soft", 0.0, 3600.0), _number(hard, "--hard", 0.0, 3600.0))
    if sum(seconds) <= 0.0:
        raise Unreadable(say("paper.command-no-light"))
    parts = negative.split(",")
    if len(parts) > _MOST_TONES:
        raise Unreadable(say("paper.command-many", most=_MOST_TONES))
    tones = [_number(part, "--negative", 0.0, 6.0) for part in parts]
    mix = mixture(paper)
    exact = range_of(mix, *seconds)
    each, plain, advice = trust(paper, seconds, tones)
    return PredictAnswer(
        densities=tuple(round(float(d), 4) for d in densities(mix, *seconds, tones)),
        spreads=each,
        range=stated(exact),
        range_exact=round(exact, 2),
        plain=plain,
        advice=advice,
    )


def soft_hard_answer(
    file: Path,
    light: str,
    dark: str,
    callier: str = "1",
    flash: str | None = None,
    flash_filter: Literal["soft", "hard"] = "soft",
) -> SoftHardAnswer | OutOfReachAnswer:
    """Return the seconds that put a light and a dark tone where they are wanted, or why not.

    Q (`callier`) multiplies both densities of the negative; a flash is given beforehand, without it.
    """
    from controller.paper.flash import Flash, alone
    from controller.paper.solver import Reached, Tone, least_flash, soft_hard
    from controller.paper.support import trust

    paper = _paper(file)
    q = _number(callier, "--callier", 1.0, _MOST_CALLIER)
    typed = _tone(light, "--light"), _tone(dark, "--dark")
    aims = [Tone(each.negative_density * q, each.print_density) for each in typed]
    under = None if flash is None else Flash(seconds=_number(flash, "--flash", 0.0, 3600.0), filter=flash_filter)
    found = soft_hard(paper, *aims, flash=under)
    flash_alone = None if under is None else round(alone(paper, under), 4)
    if not isinstance(found, Reached):
        more = None if under is not None else least_flash(paper, *aims)
        nearest = Times(**_times(found.nearest))
        least = None if more is None else round(more.seconds, 2)
        return OutOfReachAnswer(why=found.sentence, nearest=nearest, flash_alone=flash_alone, least_flash=least)
    pair = found.pair
    tones = [aim.negative_density for aim in aims]
    _, plain, advice = trust(paper, (pair.soft_seconds, pair.hard_seconds), tones)
    return SoftHardAnswer(**_times(pair), plain=plain, advice=advice, flash_alone=flash_alone)


def verdict_answer(
    file: Path, typed: tuple[str, str], tones: tuple[str, str], said: tuple[str, str]
) -> VerdictAnswer | StoppedShortAnswer:
    """Return the pair for the next print, from how the highlight and the shadow of one looked.

    `typed` are the soft and hard seconds that it had, `tones` its light and its dark tone with what was wished.
    """
    from controller.contrast.how_it_looked import Looks, Wish, mend, read_look

    paper = _paper(file)
    soft, hard = (_decimal(text, option, 0.0, 3600.0) for text, option in zip(typed, ("--soft", "--hard"), strict=True))
    if not soft and not hard:
        raise Unreadable(say("paper.command-no-light"))
    light, dark = _tone(tones[0], "--light"), _tone(tones[1], "--dark")
    if light.negative_density <= dark.negative_density:
        words = {"light": f"{light.negative_density:.2f}", "dark": f"{dark.negative_density:.2f}"}
        raise Impossible(say("paper.tones-crossed", **words))
    looks = Looks(light=read_look(said[0], "--looked-light"), dark=read_look(said[1], "--looked-dark"))
    found = mend(looks, soft, hard, paper=paper, wish=Wish(light=light.print_density, dark=dark.print_density))
    told = VerdictAnswer(
        soft=float(found.soft_seconds),
        hard=float(found.hard_seconds),
        twelfths=HalfTwelfths(soft=found.twelfths.soft, hard=found.twelfths.hard),
    )
    return StoppedShortAnswer(**dict(told), why=found.why) if found.why else told


def _exposure(
    paper: str, exposure: Exposure, found: IsoFigures, light: float | None, faults: tuple[str, ...]
) -> ExposureAnswer:
    return ExposureAnswer(
        paper=paper,
        soft_seconds=exposure.soft_seconds,
        hard_seconds=exposure.hard_seconds,
        dmin=round(found.dmin, 3),
        dmax=round(found.dmax, 3),
        range=found.range_stated,
        range_exact=round(found.range_exact, 2),
        range_spread=round(found.range_spread, 2),
        grade=found.grade,
        speed_point_stops=round(found.speed_point_stops, 3),
        speed_point_tablet_density=round(found.speed_point_density, 4),
        speed=None if light is None else round(found.speed(light), 1),
        faults=faults,
    )


def _times(pair: Pair) -> dict[str, Any]:
    from controller.paper.iso import stated
    from controller.paper.ladder import equivalent

    return {
        "soft": round(pair.soft_seconds, 3),
        "hard": round(pair.hard_seconds, 3),
        "range": stated(pair.range_exact),
        "range_exact": round(pair.range_exact, 2),
        "predicted": Tones(light=round(pair.predicted[0], 4), dark=round(pair.predicted[1], 4)),
        "filter": equivalent(pair.range_exact).sentence,
    }


def _one_paper(readings: Path) -> Readings:
    from controller.paper.readings import read_csv

    papers = read_csv(read_start(readings, LARGEST_BYTES), readings.name)
    if len(papers) > 1:
        names = ", ".join(each.paper for each in papers)
        raise Unreadable(say("paper.command-papers", file=readings.name, papers=names))
    return papers[0]


def _paper(file: Path) -> Paper:
    from controller.paper.paper import read_paper

    return read_paper(read_start(file, LARGEST_BYTES), file.name)


def _tone(text: str, option: str) -> Tone:
    from controller.paper.solver import Tone

    negative, equals, wanted = text.partition("=")
    if not equals:
        raise Unreadable(say("paper.command-tone", option=option, found=shown(text)))
    return Tone(_number(negative, option, 0.0, 6.0), _number(wanted, option, 0.0, 4.0))


def _number(text: str, option: str, least: float, most: float) -> float:
    return float(_decimal(text, option, least, most))


def _decimal(text: str, option: str, least: float, most: float) -> Decimal:
    value = decimal_within(text, least, most)
    if value is None:
        raise Unreadable(
            say("paper.command-number", option=option, found=shown(text), least=f"{least:g}", most=f"{most:.10g}")
        )
    return value
