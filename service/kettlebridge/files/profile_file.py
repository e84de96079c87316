"""Loading a profile."""

from __future__ import annotations

import os
from dataclasses import replace

from kettlebridge.files.document import read_document
from kettlebridge.files.profile_rules import profile_findings
from kettlebridge.files.profile_tables import ProfileTables
from kettlebridge.files.wording import in_order, validate
from kettlebridge.model.errors import FileError
from kettlebridge.model.plan import AnyStep, AskKind, AskStep, HeatStep, Profile, Water


def load_profile(path: str | os.PathLike[str]) -> Profile:
    """Reads a profile. Raises FileError with every mistake in it.

    Fills and sparges carry their litres, the first heat step carries `ready` when the profile has `ready_at`.
    """
    document = read_document(path)
    tables, mistakes = validate(ProfileTables, document)
    mistakes += [document.mistake(key, what) for key, what in profile_findings(document.data)]
    if tables is None or mistakes:
        raise FileError(in_order(mistakes))
    water = Water(**tables.water.model_dump())
    steps = _with_litres([table.as_step() for table in tables.step], water)
    if tables.ready_at is not None:
        steps = _with_ready(steps)
    aim = None if tables.aim is None else tables.aim.as_aim()
    return Profile(name=tables.name, water=water, steps=tuple(steps), ready_at=tables.ready_at, aim=aim)


def _with_litres(steps: list[AnyStep], water: Water) -> list[AnyStep]:
    """The litres that [water] knows, put where the ask leaves them out."""
    known_l = {AskKind.FILL: water.fill_l, AskKind.SPARGE: water.sparge_l}
    return [
        replace(step, litres=known_l[step.what])
        if isinstance(step, AskStep) and step.litres is None and step.what in known_l
        else step
        for step in steps
    ]


def _with_ready(steps: list[AnyStep]) -> list[AnyStep]:
    """The first heat step is the one that `ready_at` is meant for; the rules made sure that there is one."""
    first = next(index for index, step in enumerate(steps) if isinstance(step, HeatStep))
    return [
        replace(step, ready=index == first) if isinstance(step, HeatStep) else step for index, step in enumerate(steps)
    ]
