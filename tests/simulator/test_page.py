"""The simulator's page: its example runs as printed."""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import pytest

PAGE = Path(__file__).parents[2] / "docs" / "simulator.md"


def test_the_example_on_the_page_runs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    blocks = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert blocks
    script = tmp_path / "example.py"
    script.write_text("\n".join(blocks), encoding="utf-8")
    runpy.run_path(str(script))
    control_c, bed_c, flow = capsys.readouterr().out.split()
    assert 60.0 < float(control_c) < 75.0
    assert 60.0 < float(bed_c) < 70.0
    assert flow == "False"
