"""A negative's range at the desk: by densitometer, by one strip through one filter, or by two areas of one grey."""

from __future__ import annotations

from controller.contrast import FilterPicks, MatchedPicks, Measured, NegativeAsk, NegativeRange
from controller.paper.iso import stated
from controller.paper.ladder import TYPICAL, Ladder
from controller.paper.negative import (
    CALLIER,
    Through,
    diffuse_range,
    effective_range,
    range_from_matched_picks,
    range_from_two_picks,
    start,
)
from controller.words import say


def negative_range(ask: NegativeAsk, ladder: Ladder = TYPICAL) -> NegativeRange:
    """Return what reaches the paper of a negative's range, and what to start with.

    Raises:
        Impossible: the figures leave no range; the sentence says what to look at.
    """
    diffuse: float | None = None
    match ask:
        case Measured():
            callier = CALLIER[ask.source] if ask.callier is None else ask.callier
            diffuse = diffuse_range(ask.thin, ask.dense)
            effective = effective_range(diffuse, Through(callier=callier, flare_density=ask.flare_density))
            note = say("contrast.note-measured", thin=f"{ask.thin:.2f}", dense=f"{ask.dense:.2f}")
        case FilterPicks():
            effective = range_from_two_picks(ask.first_tone_seconds, ask.full_black_seconds, ask.range_through)
            note = say("contrast.note-picks")
        case MatchedPicks():
            effective = range_from_matched_picks(ask.dense_seconds, ask.thin_seconds)
            note = say("contrast.note-picks")
    found = start(effective, ladder)
    return NegativeRange(
        sentence=found.sentence,
        diffuse_range=diffuse,
        effective_range=effective,
        range_stated=stated(found.range_exact),
        grade=str(found.grade),
        note=say(
            "contrast.note-range",
            how=note,
            range=f"{effective:.2f}",
            r=stated(found.range_exact),
            filter=found.filter,
        ),
    )
