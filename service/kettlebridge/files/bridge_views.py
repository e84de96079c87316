"""A kettle file with several bridges, looked at bridge by bridge: each view is a file with that bridge alone.

So the rules of each kind of bridge need not know that there are others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.peek import tables_at, text_at, value_at

Findings = Iterator[tuple[KeyPath, str]]
View = dict[str, Any]

FAMILIES = ("probe", "relay", "input")
MAIN = ""
"""The name of `[bridge]` among the bridges of a file."""


def views(data: dict[str, Any]) -> dict[str, View]:
    """By the name of the bridge; what names no bridge hangs on `[bridge]`."""
    names = [MAIN, *(str(path[-1]) for path in tables_at(data, "also"))]
    return {name: _view(data, name) for name in names}


def each_view(data: dict[str, Any], rule: Callable[[View], Findings]) -> Findings:
    """What `rule` finds in each view, at the place where it stands in the file."""
    for name, view in views(data).items():
        for key, what in rule(view):
            own = key[:1] == ("bridge",) and name != MAIN
            yield (("also", name, *key[1:]) if own else key), what


def bridge_findings(data: dict[str, Any]) -> Findings:
    """Bridges that are named and are not there, or are there and nothing hangs on them."""
    known = set(views(data)) - {MAIN}
    used = set()
    for family in FAMILIES:
        for path, one in tables_at(data, family).items():
            name = one.get("bridge")
            if isinstance(name, str):
                used.add(name)
                if name not in known:
                    yield (*path, "bridge"), f"there is no [also.{name}]: without bridge it hangs on [bridge]"
    if "bridge" in known:
        yield ("also", "bridge"), "give it another name: that of [bridge] is bridge"
    for name in sorted(known - used):
        yield ("also", name), "nothing hangs on it: no probe, relay or input says it with bridge"
    if {"heater", "main_contactor"} <= set(_names(data, "relay")):
        heater, contactor = (text_at(data, "relay", name, "bridge") for name in ("heater", "main_contactor"))
        if heater != contactor:
            yield ("relay", "main_contactor", "bridge"), "must be the heater's: one board switches them in their order"
    yield from _ports(data)


def _ports(data: dict[str, Any]) -> Findings:
    first: dict[str, KeyPath] = {}
    for path in (("bridge",), *tables_at(data, "also")):
        port = text_at(data, *path, "port")
        if port is not None and first.setdefault(port, path) != path:
            yield (*path, "port"), f'"{port}" is the port of [{".".join(map(str, first[port]))}]'


def _view(data: dict[str, Any], name: str) -> View:
    view = {key: value for key, value in data.items() if key not in {*FAMILIES, "also"}}
    if name != MAIN:
        view["bridge"] = value_at(data, "also", name)
    for family in FAMILIES:
        tables = tables_at(data, family)
        view[family] = {str(path[-1]): one for path, one in tables.items() if one.get("bridge", MAIN) == name}
    return view


def _names(data: dict[str, Any], family: str) -> list[str]:
    return [str(path[-1]) for path in tables_at(data, family)]
