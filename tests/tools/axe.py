"""What axe finds wrong with a page as it stands in the browser."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page

AXE = Path(__file__).resolve().parents[2] / ".venv" / "axe" / "node_modules" / "axe-core" / "axe.min.js"
RUN = """async (left) => {
  const rules = Object.fromEntries(left.map((rule) => [rule, { enabled: false }]));
  const preload = { assets: ['media'] };  // no rule that counts reads the style sheets, which it would fetch once more
  const found = await axe.run(document, { rules, preload, resultTypes: ['violations'] });
  const why = (node) => ([...node.any, ...node.all, ...node.none][0] || {}).message || '';
  return found.violations.flatMap((one) => one.nodes.map((node) =>
    `${one.id} (${one.impact}): ${node.html.slice(0, 160)} ${why(node)}`));
}"""
needs_axe = pytest.mark.skipif(
    not AXE.exists(), reason="axe-core is not there: tests/setup gets it with npm, which cannot be had here"
)


def violations(page: Page, *left_out: str) -> list[str]:
    """Return every violation of a page, of any impact; `left_out` are rules that do not count here."""
    if not page.evaluate("typeof axe === 'object'"):
        page.evaluate(AXE.read_text(encoding="utf-8"))
    found: list[str] = page.evaluate(RUN, list(left_out))
    return found
