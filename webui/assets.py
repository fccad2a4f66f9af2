"""Files that go to the browser, addressed by their content so that they may be kept for ever."""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Final

FOLDER: Final = Path(__file__).parent / "static"
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
