"""Figures changed in a kettle file, everything else in it left as it was written, comments too."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Table

from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.model.errors import FileError, Mistake


def with_figures(text: str, figures: Mapping[str, float]) -> str:
    """`text` with these keys of `[kettle]` set. Raises ValueError for text that has no such table."""
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as error:
        raise ValueError(str(error)) from error
    table = document.get("kettle")
    if not isinstance(table, Table):
        raise ValueError("there is no [kettle]")
    for key, value in figures.items():
        table[key] = value
    return tomlkit.dumps(document)


def write_figures(path: Path, figures: Mapping[str, float]) -> None:
    """Replaces the file, whole or not at all, once what it would become can be loaded. Raises FileError."""
    fresh = path.with_name(f".{path.stem}.{secrets.token_hex(4)}.toml")
    try:
        fresh.write_text(with_figures(path.read_text(encoding="utf-8"), figures), encoding="utf-8")
        load_kettle(fresh)
        fresh.chmod(path.stat().st_mode & 0o777)
        fresh.replace(path)
    except FileError as error:
        raise FileError(tuple(replace(mistake, path=os.fspath(path)) for mistake in error.mistakes)) from error
    except (OSError, ValueError) as error:
        what = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FileError((Mistake(path=os.fspath(path), line=None, key="", what=what),)) from error
    finally:
        fresh.unlink(missing_ok=True)
