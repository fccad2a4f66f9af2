"""The hardware room's errors: one family, each with a sentence for the person and a remedy."""

from __future__ import annotations


class HardwareError(Exception):
    """Something about a wire, a line or the keeper is not as it must be."""


class TimingError(HardwareError, ValueError):
    """A span of the timing table lies outside its limits."""


class WireError(HardwareError, ValueError):
    """A line on the pipe is not a message."""


class LineError(HardwareError):
    """A line cannot be had or does not answer; the text names the line and the remedy."""


class WiringError(LineError, ValueError):
    """The wiring file says what cannot be so; the text names file, key and remedy."""


class LineBusy(LineError):
    """Another process holds the line; `pid` names it where that is known, and is 0 where it is not."""

    def __init__(self, text: str, pid: int = 0) -> None:
        super().__init__(text)
        self.pid = pid


class KeeperAway(HardwareError):
    """The keeper does not answer; no light can be given until it is back."""
