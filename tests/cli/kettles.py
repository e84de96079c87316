"""The example kettle with another port, and short days to brew in it."""

from __future__ import annotations

import re
from pathlib import Path

from kettlebridge.files.examples import example_kettles, example_profiles

CODE = "4711"
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
    if code is not None:
        text = text.replace("[safety]\n", f'[safety]\ncode = "{code}"\n')
    path = folder / "thimble.toml"
    path.write_text(text, encoding="utf-8")
    return path


def short_day(folder: Path) -> Path:
    """Fill, a little heat, empty."""
    path = folder / "short_day.toml"
    path.write_text(SHORT_DAY, encoding="utf-8")
    return path
