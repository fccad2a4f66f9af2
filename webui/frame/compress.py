"""Answers made smaller on their way to a phone: pages, pictures drawn as SVG, words for scripts, styles and scripts.

Only a paired phone's are, and only where our own page or the person asked: see decision 0037. A length tells nobody
anything then, and a stranger's request costs no work. The event stream goes as it is, word by word.
"""

from __future__ import annotations

import gzip
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from flask import g, request

if TYPE_CHECKING:
    from flask import Flask, Response

LEAST: Final = 1000
"""Bytes; what is smaller fits one packet as it is."""
KINDS: Final = frozenset({"text/html", "text/css", "text/javascript", "application/json", "image/svg+xml"})
_LEVEL: Final = 4
"""Half the time of the usual level, and a twentieth more bytes."""
_BEST: Final = 9
_ELSEWHERE: Final = frozenset({"cross-site", "same-site"})


def compress_answers(app: Flask) -> None:
    """Have the app's answers compressed where the browser takes them so."""

    @app.after_request
    def smaller(answer: Response) -> Response:
        """Compress one answer; what may be kept for ever is compressed once."""
        if g.get("device") is None:  # as the guard found it: asking anew might fail where an error is answered
            return answer
        if answer.is_streamed or answer.mimetype not in KINDS or "Content-Encoding" in answer.headers:
            return answer
        answer.vary.add("Accept-Encoding")
        if _wanted() and answer.content_length is not None and answer.content_length >= LEAST:
            body = answer.get_data()
            answer.set_data(_once(body) if answer.cache_control.immutable else gzip.compress(body, _LEVEL, mtime=0))
            answer.content_encoding = "gzip"
        return answer


def _wanted() -> bool:
    """Tell whether the browser takes it, and was not sent here by a page of anyone else's."""
    return request.accept_encodings.quality("gzip") > 0 and request.headers.get("Sec-Fetch-Site") not in _ELSEWHERE


@lru_cache(maxsize=64)
def _once(body: bytes) -> bytes:
    return gzip.compress(body, _BEST, mtime=0)
