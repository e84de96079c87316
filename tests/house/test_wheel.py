"""An installed copy has what a checkout has: both packages, their types and the examples that run."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from zipfile import ZipFile

import pytest

from tests.house.tree import ROOT, files


@pytest.fixture(scope="module")
def shipped(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """The names in a wheel, built with what is installed and no network."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(folder)]
    subprocess.run(command, cwd=ROOT, capture_output=True, check=True)
    (wheel,) = folder.glob("*.whl")
    with ZipFile(wheel) as archive:
        return set(archive.namelist())


@pytest.mark.parametrize(("source", "package"), [("service", "kettlebridge"), ("simulator", "kettlesim")])
def test_wheel_ships_every_file_of_the_package(source: str, package: str, shipped: set[str]) -> None:
    owned = {path.relative_to(ROOT / source).as_posix() for path in files(ROOT / source / package)}
    assert f"{package}/py.typed" in owned
    assert owned <= shipped


def test_wheel_ships_the_examples_and_no_lock_files(shipped: set[str]) -> None:
    config = ROOT / "config"
    examples = {
        f"kettlebridge/config/{path.relative_to(config).as_posix()}"
        for path in files(config)
        if path.parent != config / "locks"
    }
    assert {name for name in shipped if "/config/" in name} == examples


def test_wheel_ships_nothing_else(shipped: set[str]) -> None:
    roots = {Path(name).parts[0].split("-")[0] for name in shipped}
    assert roots == {"kettlebridge", "kettlesim"}
