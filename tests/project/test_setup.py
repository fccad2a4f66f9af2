"""Setting up: what is installed for whom, and when again; with a stand-in for the folder's own Python."""

from __future__ import annotations

import re
import shutil
import subprocess
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PYTHON = (
    '#!/bin/sh\ncase "$*" in *"pip install"*) for word; do last=$word; done; echo "$last" >> "$0.installed";; esac\n'
)


@pytest.fixture
def clone(tmp_path: Path) -> Path:
    """A folder with the script and a `.venv` whose Python only notes what it is to install."""
    (tmp_path / "tests").mkdir()
    (tmp_path / ".venv" / "bin").mkdir(parents=True)
    shutil.copy(ROOT / "tests" / "setup", tmp_path / "tests" / "setup")
    shutil.copy(ROOT / "pyproject.toml", tmp_path / "pyproject.toml")
    python = tmp_path / ".venv" / "bin" / "python"
    python.write_text(PYTHON, encoding="utf-8")
    python.chmod(0o755)
    return tmp_path


def set_up(clone: Path, what: str) -> list[str]:
    """Set up, and return what was installed."""
    installed = clone / ".venv" / "bin" / "python.installed"
    installed.unlink(missing_ok=True)
    subprocess.run([clone / "tests" / "setup", what], check=True, capture_output=True)
    return installed.read_text(encoding="utf-8").splitlines() if installed.exists() else []


def pull(clone: Path) -> None:
    """Change what the project needs, as a new version may."""
    with (clone / "pyproject.toml").open("a", encoding="utf-8") as file:
        file.write("# changed\n")


def test_serving_gets_the_paper_pages_libraries_once(clone: Path) -> None:
    """The first start installs with the extra “paper”, the second nothing, and one after a changed project again."""
    assert set_up(clone, "run") == [".[paper]"]
    assert set_up(clone, "run") == []
    pull(clone)
    assert set_up(clone, "run") == [".[paper]"]
    assert set_up(clone, "run") == []


def test_only_a_set_up_that_installs_says_so(clone: Path) -> None:
    """“Setting up, once” is said when something is set up, and not before every command after it."""
    said = [
        subprocess.run([clone / "tests" / "setup", "run"], check=True, capture_output=True, text=True).stderr
        for _ in range(2)
    ]
    assert said == ["Setting up, once: up to 300 MB from the internet, a minute or two.\n", ""]


def test_what_is_set_up_for_tests_serves_as_well(clone: Path) -> None:
    """After the tests were set up serving installs nothing, until the project has changed."""
    sums = subprocess.run(["sha256sum", clone / "pyproject.toml"], check=True, capture_output=True, text=True).stdout
    (clone / ".venv" / ".set-up-for-test").write_text(f"{sums.split()[0]}\n", encoding="utf-8")
    assert set_up(clone, "run") == []
    pull(clone)
    assert set_up(clone, "run") == [".[paper]"]


def test_a_lean_machine_stays_lean(clone: Path) -> None:
    """Where the libraries of the paper pages were left out they stay out, also after a changed project."""
    assert set_up(clone, "lean") == ["."]
    assert set_up(clone, "run") == []
    pull(clone)
    assert set_up(clone, "run") == ["."]


def test_what_is_not_known_is_not_set_up(clone: Path) -> None:
    """A word that the script does not know installs nothing, and is told what it may be."""
    done = subprocess.run([clone / "tests" / "setup", "rum"], check=False, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (2, "setup: say run, lean, test or long.\n")


@pytest.mark.parametrize(
    ("name", "floor"),
    [("pillow", "12.1.1"), ("werkzeug", "3.1.4"), ("jinja2", "3.1.6"), ("waitress", "3.0.1"), ("setuptools", "78.1.1")],
)
def test_no_version_with_a_known_hole_is_let_in(name: str, floor: str) -> None:
    """What reads strangers' bytes, or builds, is wanted in no version with a hole that is known; what is here is none.

    The floors are those of the advisories published up to November 2026.
    """
    wanted = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    every = [*wanted["project"]["dependencies"], *wanted["build-system"]["requires"]]
    every += wanted["project"]["optional-dependencies"]["paper"]
    (line,) = [each for each in every if each.startswith(f"{name}>=")]
    assert _numbers(line.partition(">=")[2]) >= _numbers(floor)
    if name != "setuptools":  # brought for the building alone
        assert _numbers(version(name)) >= _numbers(floor)


def _numbers(version_: str) -> tuple[int, ...]:
    return tuple(int(part) for part in re.findall(r"\d+", version_)[:3])
