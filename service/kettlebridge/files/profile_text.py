"""A profile as the text of a file that `load_profile` reads back to the same profile."""

from __future__ import annotations

from dataclasses import fields
from enum import Enum
from typing import Any

import tomlkit

from kettlebridge.model.plan import Addition, Aim, AnyStep, Profile, StepKind, Water

LEFT_OUT = frozenset({"kind", "ready"})
"""`kind` is written as `do`; `ready` follows from `ready_at`."""
ARRAYS = {"additions": "addition"}


def profile_text(profile: Profile) -> str:
    """TOML. What is None is left out, and means the same left out."""
    head: dict[str, Any] = {"schema": 1, "name": profile.name}
    if profile.ready_at is not None:
        head["ready_at"] = profile.ready_at
    head["water"] = _keys(profile.water)
    if profile.aim is not None:
        head["aim"] = _keys(profile.aim)
    return tomlkit.dumps({**head, "step": [_step(step) for step in profile.steps]})


def _step(step: AnyStep) -> dict[str, Any]:
    return {"do": step.kind.value, **_keys(step)}


def _keys(value: AnyStep | Addition | Water | Aim) -> dict[str, Any]:
    keys: dict[str, Any] = {}
    for each in fields(value):
        held = getattr(value, each.name)
        if held is None or held == () or isinstance(held, StepKind) or each.name in LEFT_OUT - {"kind"}:
            continue
        if each.name in ARRAYS:
            keys[ARRAYS[each.name]] = [_keys(addition) for addition in held]
        else:
            keys[each.name] = held.value if isinstance(held, Enum) else held
    return keys
