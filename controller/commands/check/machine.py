"""The machine as a check sees it: every file below one root, every question to it in one place."""

from __future__ import annotations

import os
import resource
import socket
import subprocess
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from controller.wall import synchronised

_PATIENCE_S: Final = 5.0


def run(words: Sequence[str]) -> str | None:
    """Return what a command says, or None where there is none, or it fails."""
    try:
        done = subprocess.run(words, capture_output=True, text=True, timeout=_PATIENCE_S, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return None
    return done.stdout if done.returncode == 0 else None


def may_use_priority() -> bool:
    """Tell whether this user may ask for real-time priority."""
    limit = resource.getrlimit(resource.RLIMIT_RTPRIO)[0]
    return os.geteuid() == 0 or limit == resource.RLIM_INFINITY or limit > 0


def may_use(path: Path, mode: int) -> bool:
    """Tell whether this user may open a file so."""
    return os.access(path, mode)


@dataclass(frozen=True)
class Machine:
    """The one this runs on, unless a test says otherwise."""

    root: Path = Path("/")
    environment: Mapping[str, str] = field(default_factory=lambda: os.environ)
    run: Callable[[Sequence[str]], str | None] = run
    synchronised: Callable[[], bool] = synchronised
    may_use_priority: Callable[[], bool] = may_use_priority
    may_use: Callable[[Path, int], bool] = may_use
    hostname: Callable[[], str] = socket.gethostname

    def at(self, path: str) -> Path:
        """Return where a file of this machine lies."""
        return self.root / path.lstrip("/")

    def read(self, path: str) -> str | None:
        """Return a file's text without white space around it, or None where there is none to be read."""
        try:
            return self.at(path).read_text(encoding="utf-8", errors="replace").strip()
        except OSError:
            return None
