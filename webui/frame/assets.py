"""Files that go to the browser, addressed by their content so that they may be kept for ever."""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from flask import Flask, Response, g

FOLDER: Final = Path(__file__).parent.parent / "static"
KINDS: Final = {".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8"}


@dataclass(frozen=True, slots=True)
class Asset:
    """One file: its bytes, and the first 16 hex digits of their SHA-256."""

    name: str
    mark: str
    body: bytes
    kind: str

    @property
    def address(self) -> str:
        """The path that names this content and no other."""
        return f"/static/{self.mark}/{self.name}"


def read_assets(folder: Path = FOLDER) -> dict[str, Asset]:
    """Return every style and script of `folder` by name."""
    found = {}
    for path in sorted(folder.iterdir()):
        if path.suffix in KINDS:
            body = path.read_bytes()
            mark = hashlib.sha256(body).hexdigest()[:16]
            found[path.name] = Asset(path.name, mark, body, KINDS[path.suffix])
    return found


def csp_hash(text: str) -> str:
    """Return the source expression that allows exactly this inline text."""
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


def speak(app: Flask, *, style: str, script: str) -> None:
    """Put the headers on every answer; `style` and `script` are the only inline texts that may count."""
    policy = "; ".join(
        [
            "default-src 'none'",
            f"style-src 'self' {csp_hash(style)}",
            f"script-src 'self' {csp_hash(script)}",
            "connect-src 'self'",
            "manifest-src 'self'",
            "form-action 'self'",
            "frame-ancestors 'none'",
            "base-uri 'none'",
        ]
    )

    @app.after_request
    def headers(answer: Response) -> Response:
        """Set what is not set already: a file that may be kept says so itself."""
        # Only a page that shows a picture may fetch one, and ours alone.
        bound = f"{policy}; img-src 'self'" if g.get("pictures") else policy
        for name, value in {**ALWAYS, "Content-Security-Policy": bound}.items():
            answer.headers.setdefault(name, value)
        return answer


ALWAYS: Final = {
    "X-Content-Type-Options": "nosniff",
    # "no-referrer" would make browsers send "Origin: null" with our own forms; this sends nothing to anyone else.
    "Referrer-Policy": "same-origin",
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
