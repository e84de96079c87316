"""The example kettle with another port, and short days to brew in it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from kettlebridge.files.examples import example_kettles, example_profiles
from kettlebridge.files.kettle_file import KettleFile, load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.files.profile_text import profile_text
from kettlebridge.model.plan import Profile, StepKind
from tests.scenarios.whole_day import wire_day

CODE = "4711"
LEFT_OUT = ("Mash out", "Sparge", "Drain")
SHORT_DAY = """
schema = 1
name = "Short day"
[water]
fill_l = 5.0
[[step]]
do = "ask"
what = "fill"
[[step]]
do = "heat"
to_c = 22.0
[[step]]
do = "ask"
what = "empty"
"""


def example(stem: str) -> Path:
    return next(path for path in (*example_kettles(), *example_profiles()) if path.stem == stem)


def kettle_at(folder: Path, port: Path | str, *, code: str | None = CODE) -> Path:
    """The kettle file of `thimble` with its board at `port`."""
    text, found = re.subn(r"^port = .*$", f'port = "{port}"', example("thimble").read_text(), flags=re.MULTILINE)
    assert found == 1
    text, found = re.subn(r"^code = .*\n", "" if code is None else f'code = "{code}"\n', text, flags=re.MULTILINE)
    assert found == 1
    path = folder / "thimble.toml"
    path.write_text(text, encoding="utf-8")
    return path


def quick_day(folder: Path) -> tuple[Path, Path]:
    """Kettle and profile of a `wire_day` that goes from the mash to the boil and then ends."""
    file, profile = wire_day()
    steps = tuple(step for step in profile.steps if step.name not in LEFT_OUT)
    steps = steps[: [step.kind for step in steps].index(StepKind.BOIL) + 1]
    shorter = replace(profile, water=replace(profile.water, sparge_l=0.0), steps=(*steps, profile.steps[-1]))
    return written(folder, file, shorter)


def written(folder: Path, file: KettleFile, profile: Profile) -> tuple[Path, Path]:
    """The files of a `wire_day`, or of a part of it."""
    text = re.sub(
        r"^heater_w = \d+", f"heater_w = {file.kettle.heater_w:g}", example("thimble").read_text(), flags=re.M
    )
    kettle = folder / "quick_kettle.toml"
    kettle.write_text(text, encoding="utf-8")
    assert load_kettle(kettle).kettle == file.kettle
    return kettle, written_profile(folder, profile)


def written_profile(folder: Path, profile: Profile) -> Path:
    """A file that holds it."""
    path = folder / "quick_day.toml"
    path.write_text(profile_text(profile), encoding="utf-8")
    assert load_profile(path) == profile
    return path


def short_day(folder: Path) -> Path:
    """Fill, a little heat, empty."""
    path = folder / "short_day.toml"
    path.write_text(SHORT_DAY, encoding="utf-8")
    return path
