"""Files that nobody wrote for a recipe: too long, too deep, too many, or that would have something else read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

ELSEWHERE = "not to be read"


def _entities(_folder: Path) -> bytes:
    entities = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10 if n else "ha"}">' for n in range(12))
    return f"<!DOCTYPE x [{entities}]><RECIPES><RECIPE><NAME>&e11;</NAME></RECIPE></RECIPES>".encode()


def _external_entity(folder: Path) -> bytes:
    (folder / "secret.txt").write_text(ELSEWHERE)
    system = (folder / "secret.txt").as_uri()
    return f'<!DOCTYPE x [<!ENTITY e SYSTEM "{system}">]><RECIPES><RECIPE><NAME>&e;</NAME></RECIPE></RECIPES>'.encode()


HOSTILE: dict[str, Callable[[Path], bytes]] = {
    "huge.json": lambda _: b'{"beerjson": "' + bytes(50_000_000),
    "deep.json": lambda _: b"[" * 400_000,
    "deep_objects.json": lambda _: b'{"a":' * 5000 + b"1" + b"}" * 5000,
    "many.json": lambda _: b'{"beerjson": {"version": 1, "recipes": [' + b"0," * 300_000 + b"0]}}",
    "many_objects.json": lambda _: b"[" + b"{}," * 340_000 + b"{}]",
    "many_lists.json": lambda _: b"[" + b"[]," * 340_000 + b"[]]",
    "long_number.json": lambda _: b'{"beerjson": {"version": ' + b"9" * 900_000 + b"}}",
    "huge.xml": lambda _: b"<RECIPES>" + b"<RECIPE><NAME>ale</NAME></RECIPE>" * 1_500_000 + b"</RECIPES>",
    "deep.xml": lambda _: b"<a>" * 200_000,
    "many.xml": lambda _: b"<RECIPES>" + b"<a/>" * 200_000 + b"</RECIPES>",
    "nested_entities.xml": _entities,
    "external_entity.xml": _external_entity,
    "external_dtd.xml": lambda folder: (
        f'<!DOCTYPE RECIPES SYSTEM "{(folder / "recipes.dtd").as_uri()}"><RECIPES/>'.encode()
    ),
}


def hostile(folder: Path, name: str) -> Path:
    """The one of that name, written into `folder`."""
    path = folder / name
    path.write_bytes(HOSTILE[name](folder))
    return path
