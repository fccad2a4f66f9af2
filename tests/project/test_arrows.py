"""The arrows between the rooms, and what the front door may be to them."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("hardware", "controller", "webui")
MOST_LINES = 350
"""Of a module: what its reader holds in mind at once (house style, DEVELOPERS.md)."""


def test_contracts_hold() -> None:
    """Every arrow of the house is held by the import contracts."""
    found = _lint(ROOT)
    assert found.returncode == 0, found.stdout


def test_a_broken_arrow_is_seen(tmp_path: Path) -> None:
    """A hardware module that imports the controller breaks the contract."""
    for room in ROOMS:
        for source in (ROOT / room).rglob("*.py"):
            copy = tmp_path / source.relative_to(ROOT)
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_bytes(source.read_bytes())
    (tmp_path / "hardware" / "wrong.py").write_text("import controller.daemon.desk\n", encoding="utf-8")
    (tmp_path / "pyproject.toml").write_bytes((ROOT / "pyproject.toml").read_bytes())
    found = _lint(tmp_path)
    assert found.returncode != 0
    assert "hardware.wrong -> controller.daemon.desk" in found.stdout


def test_nothing_imports_the_front_door() -> None:
    """No room's module imports treadle.py."""
    for room in ROOMS:
        for source in (ROOT / room).rglob("*.py"):
            for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
                names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
                names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
                assert "treadle" not in names, source


def test_no_module_is_long() -> None:
    """Neither the front door nor any room's module has more lines than the house style lets it have."""
    modules = [ROOT / "treadle.py", *(source for room in ROOMS for source in (ROOT / room).rglob("*.py"))]
    lines = {str(each.relative_to(ROOT)): each.read_text(encoding="utf-8").count("\n") for each in modules}
    assert len(lines) > 300
    assert {name: many for name, many in lines.items() if many > MOST_LINES} == {}


def test_the_daemon_starts_light() -> None:
    """Neither numpy, scipy nor Pillow is imported by what `serve` imports, and the keeper imports no pydantic."""
    pages = [f"webui.pages.{page.stem}" for page in (ROOT / "webui" / "pages").glob("*.py")]
    daemon = _imported_by(", ".join(["treadle", "controller.service.serve", "webui.app", "webui.server", *pages]))
    assert not daemon & {"numpy", "scipy", "PIL"}
    keeper = _imported_by("hardware.keeper.process, hardware.practice.outputs, hardware.practice.contact")
    assert not keeper & {"pydantic", "flask", "gpiozero", "sqlite3", "controller"}


def _lint(folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--no-cache"],
        cwd=folder,
        env={"PYTHONPATH": str(folder), "PATH": "/usr/bin:/bin", "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )


def _imported_by(modules: str) -> set[str]:
    code = f"import sys, {modules}; print(*sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    return set(found.stdout.split())
