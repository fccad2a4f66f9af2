"""Who is told what the runner does."""

from __future__ import annotations
