"""A sheet's way through the trays, as its record has it: as a process has it, cut short, hurried, or given up."""

from __future__ import annotations

from controller.store.records import SheetRecord, TrayRecord, When
from controller.trays.process import USUAL, Support
from hardware.clock import NS_PER_MS

MS = NS_PER_MS


def through_trays(
    record: SheetRecord,
    support: Support = "RC",
    *,
    developer_s: float | None = None,
    last: str = "",
    lay_s: float | None = None,
    given_up: bool = False,
    hurry: int = 1,
    celsius: float = 20.0,
) -> SheetRecord:
    """The record with its trays; followed no further than `last`, where it lay `lay_s` and was `given_up` by the page.

    A clock that is `hurry` times as fast moves the rows together, and leaves what they say of the process.
    """
    assert record.closed is not None
    at, trays = record.closed.at_ns, []
    for tray in USUAL[support].trays:
        ms = round(developer_s * 1000) if tray.name == "developer" and developer_s is not None else tray.ms
        ends = tray.name == last
        if ends:
            ms = round(1000 * (lay_s or 0.0))
        after = at + ms * MS // hurry
        known = not ends or given_up
        trays.append(
            TrayRecord(
                tray=tray.name,
                support=support,
                in_ns=at,
                out_ns=after if known else None,
                lay_ms=ms if known else None,
                put_in_by="time",
                taken_out_by=("page" if ends else "time") if known else "",
                ended=ends and given_up,
                celsius=celsius,
                came=When(row=1, boot="virtual", at_ns=at, wall="", synchronised=False),
            )
        )
        if ends:
            break
        at = after
    return record.model_copy(update={"trays": tuple(trays)})


def entered_ns(record: SheetRecord, tray: str) -> int:
    """When it came into this tray."""
    return next(each.in_ns for each in record.trays if each.tray == tray)
