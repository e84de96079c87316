"""Figures changed in a kettle file, everything else in it left as it was written, comments too."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Table

from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.model.errors import FileError, Mistake


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoPoints:
    """What a probe read at two known temperatures."""

    probe: str
    read_c: tuple[float, float]
    true_c: tuple[float, float]


def with_figures(text: str, figures: Mapping[str, float], probe: TwoPoints | None = None) -> str:
    """`text` with these keys of `[kettle]` set, and a probe's two points. Raises ValueError for a missing table."""
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as error:
        raise ValueError(str(error)) from error
    table = document.get("kettle")
    if not isinstance(table, Table):
        raise ValueError("there is no [kettle]")
    for key, value in figures.items():
        table[key] = value
    if probe is not None:
        _set_points(document, probe)
    return tomlkit.dumps(document)


def _set_points(document: tomlkit.TOMLDocument, points: TwoPoints) -> None:
    """In place of an offset, or of older points."""
    probes = document.get("probe")
    table = probes.get(points.probe) if probes is not None else None
    if table is None:
        raise ValueError(f"there is no [probe.{points.probe}]")
    if "offset_c" in table:
        del table["offset_c"]
    table["read_c"], table["true_c"] = list(points.read_c), list(points.true_c)


def write_figures(path: Path, figures: Mapping[str, float], probe: TwoPoints | None = None) -> None:
    """Replaces the file, whole or not at all, once what it would become can be loaded. Raises FileError."""
    fresh = path.with_name(f".{path.stem}.{secrets.token_hex(4)}.toml")
    try:
        fresh.write_text(with_figures(path.read_text(encoding="utf-8"), figures, probe), encoding="utf-8")
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
