"""Looking into parsed TOML that may hold anything: what is not of the wanted kind is None.

The rules that join several keys run on the raw data, so that they report in the same go as the mistakes of single keys.
"""

from __future__ import annotations

from math import isfinite
from typing import Any

from kettlebridge.files.key_lines import KeyPath


def value_at(data: object, *path: str | int) -> object | None:
    """Whatever is at `path`."""
    for part in path:
        if isinstance(part, str) and isinstance(data, dict):
            data = data.get(part)
        elif isinstance(part, int) and isinstance(data, list) and part < len(data):
            data = data[part]
        else:
            return None
    return data


def number_at(data: object, *path: str | int) -> float | None:
    """A finite number. Too big for a float counts as none."""
    found = value_at(data, *path)
    if isinstance(found, bool) or not isinstance(found, int | float):
        return None
    try:
        return float(found) if isfinite(found) else None
    except OverflowError:
        return None


def text_at(data: object, *path: str | int) -> str | None:
    """A string."""
    found = value_at(data, *path)
    return found if isinstance(found, str) else None


def tables_at(data: object, *path: str | int) -> dict[KeyPath, dict[str, Any]]:
    """The tables of an array of tables, or of a family of named ones, by their full path."""
    found = value_at(data, *path)
    if isinstance(found, dict):
        return {(*path, str(name)): inner for name, inner in found.items() if isinstance(inner, dict)}
    if isinstance(found, list):
        return {(*path, index): inner for index, inner in enumerate(found) if isinstance(inner, dict)}
    return {}
