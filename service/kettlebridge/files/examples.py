"""The example files that travel with the program: `config/` in a checkout, `kettlebridge/config/` when installed."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from kettlebridge.model.errors import OperatorError


def config_folder(package: Path | None = None) -> Path:
    """The folder of the examples. Raises OperatorError where they were left out of an installation.

    `package` is the folder of the installed package, this one's own unless told.
    """
    home = Path(str(files("kettlebridge"))) if package is None else package
    for folder in (home / "config", home.parent.parent / "config"):
        if (folder / "kettles").is_dir():
            return folder
    raise OperatorError(f"no example files beside {home}")


def example_kettles() -> tuple[Path, ...]:
    """The example kettle files, by name."""
    return tuple(sorted((config_folder() / "kettles").glob("*.toml")))


def example_profiles() -> tuple[Path, ...]:
    """The example profiles, by name."""
    return tuple(sorted((config_folder() / "profiles").glob("*.toml")))
