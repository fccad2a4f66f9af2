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


class KeeperAway(HardwareError):
    """The keeper does not answer; no light can be given until it is back."""
