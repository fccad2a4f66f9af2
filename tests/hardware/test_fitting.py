"""What a darkroom is fitted with, and where its data lie."""

from __future__ import annotations

from pathlib import Path

import pytest

from hardware.errors import LineError
from hardware.fitting import default_data, read_fitting


@pytest.mark.parametrize(
    ("environment", "folder"),
    [
        ({"HOME": "/home/a"}, "/home/a/.local/share/treadle"),
        ({"HOME": "/home/a", "XDG_DATA_HOME": "/data"}, "/data/treadle"),
        ({"HOME": "/home/a", "XDG_DATA_HOME": ""}, "/home/a/.local/share/treadle"),
        ({"HOME": "/home/a", "XDG_DATA_HOME": "relative"}, "/home/a/.local/share/treadle"),
    ],
)
def test_the_default_folder_follows_xdg(environment: dict[str, str], folder: str) -> None:
    """The default is `treadle` in XDG_DATA_HOME, which counts only when absolute, else in ~/.local/share.

    Source: XDG Base Directory Specification (from memory).
    """
    assert default_data(environment, practice=False) == Path(folder)


def test_practice_sheets_have_a_folder_of_their_own() -> None:
    """Practice sheets never lie among real ones."""
    environment = {"HOME": "/home/a"}
    assert default_data(environment, practice=True) != default_data(environment, practice=False)


def test_real_lines_are_refused_and_nothing_falls_back(tmp_path: Path) -> None:
    """Without real lines no darkroom is fitted; the sentence names the remedy."""
    with pytest.raises(LineError, match="serve --simulate"):
        read_fitting(tmp_path, {}, practice=False)
    assert read_fitting(tmp_path, {}, practice=True).lines["kind"] == "practice"
