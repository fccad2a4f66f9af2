"""What is kept of readings: a row for each spot, and in a paper's file its reference, which may be in doubt."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Final

from controller.easel.gains import Gains
from controller.errors import Impossible
from controller.keeping import Keeps
from controller.store.easel_rows import SpotRead
from controller.store.entries import EASEL_ROWS
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.paper import Paper, Reference

KEEPS: Final = Keeps(room="easel", rows=EASEL_ROWS)


def reference_of(read: SpotRead, box: str, day: date) -> Reference:
    """Return a paper's reference from the row of the empty light, for the box of this label.

    Raises:
        Impossible: the row is a spot's.
    """
    from controller.paper.paper import Reference, Setup

    if read.what != "reference":
        raise Impossible(say("easel.no-reference-light"))
    at = read.bench
    setup = Setup(magnification=at.magnification, aperture=at.aperture, head_height_mm=at.head_height_mm)
    return Reference(
        level=read.level, sensor=read.sensor, gain=read.gain, filter=read.filter, setup=setup, box=box, date=day
    )


def level_against(paper: Paper, sensor: str, gain: str, filter_in: str, gains: Gains | None = None) -> float:
    """Return a paper's reference level for spots read with this sensor, gain and filter.

    Of another gain than the reference's it is what the reference would have counted through it, by the ratio that was
    measured on this sensor (`gains`).

    Raises:
        Impossible: the paper has none, or it is older than the box, or of another sensor, gain or filter; the
            sentence says which, and what to do.
    """
    reference = paper.reference
    if reference is None:
        raise Impossible(say("easel.reference-none", paper=paper.name))
    box = paper.speeds[-1].box if paper.speeds else paper.box
    if reference.box != box.label or reference.date < box.dated:
        raise Impossible(say("easel.reference-old", paper=paper.name, day=box.dated.isoformat()))
    step = (gains or Gains()).between(reference.gain, gain)
    if reference.sensor == sensor and step is None:
        raise Impossible(say("easel.reference-gain", paper=paper.name, was=reference.gain or "–", now=gain or "–"))
    if reference.sensor != sensor or step is None:
        raise Impossible(
            say(
                "easel.reference-sensor",
                paper=paper.name,
                was=f"{reference.sensor}, {reference.gain}",
                now=f"{sensor}, {gain}",
            )
        )
    if filter_in and reference.filter and filter_in != reference.filter:
        raise Impossible(say("easel.reference-filter", was=reference.filter, now=filter_in))
    return reference.level * step.ratio
