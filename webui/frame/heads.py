"""A request's head before waitress reads it, so brought into order that reading takes as long as the head is.

Waitress's patterns try a run of blanks, or a first line that is none, in every way there is: four kilobytes from
anybody would hold up all there is for seconds, STOP with it. And cookies go by the name of a host, not by its port:
what else serves at ours may set some of any length and of any bytes, so that none but our own are let through.
"""

from __future__ import annotations

import re
from typing import Final

LONGEST_AS_SENT: Final = 131_072
"""Bytes of a head as it comes, with all the cookies of whatever else serves at this host name."""
LONGEST: Final = 32_768
"""Bytes of a head without those."""
LONGEST_OF_STRANGERS: Final = 8_192
"""The same, from a phone that is not paired: what is in it costs time to read, and need not be much."""
OUR_COOKIES: Final = b"treadle-"
"""What the names of our cookies begin with."""
_BLANKS: Final = re.compile(rb"(?:(?:\r\n)?[ \t])+")
"""Blanks, a line that is folded among them."""
_VERSION: Final = re.compile(rb"HTTP/[0-9]\.[0-9]")
_COOKIE: Final = b"cookie:"
_OURS: Final = re.compile(
    rb'(?:^|[;,\s])(%s[a-z0-9-]+)="?([A-Za-z0-9._-]{0,1000})(?![A-Za-z0-9._-])' % re.escape(OUR_COOKIES)
)
"""One cookie of ours; none that was made here is longer."""


def plain_head(head: bytes) -> bytes:
    """Return a head with the first line looked at, single blanks, nothing folded, and no cookies but ours.

    Raises:
        ValueError: its first line is none of HTTP's.
    """
    first, _, rest = head.partition(b"\r\n")
    words = first.rstrip().split(b" ")
    if not (all(words) and (len(words) == 2 or (len(words) == 3 and _VERSION.fullmatch(words[2])))):
        raise ValueError("no first line of HTTP")
    lines = _BLANKS.sub(b" ", rest).split(b"\r\n")
    return b"\r\n".join((first, *filter(None, map(_without_others, lines)), b"", b""))


def _without_others(line: bytes) -> bytes:
    """Return a line; of one with cookies only what is ours, nothing where none is."""
    if line[: len(_COOKIE)].lower() != _COOKIE:
        return line
    ours = b"; ".join(b"=".join(found.groups()) for found in _OURS.finditer(line[len(_COOKIE) :]))
    return b"Cookie: " + ours if ours else b""
