"""What `python -m kettlesim` is told about probes."""

from __future__ import annotations

import pytest

from kettlesim.__main__ import _parser

KETTLE = ["--capacity-l", "30", "--heater-w", "2800"]


def test_a_second_probe_in_the_same_place_hangs_with_the_first() -> None:
    probes = ["--probe", "control=28B2E4551E000055", "--probe", "same_place=2847c80d220000b4"]
    told = _parser().parse_args([*KETTLE, *probes]).probe
    assert [(probe.name, probe.rom) for probe in told] == [
        ("control", "28B2E4551E000055"),
        ("control", "2847C80D220000B4"),
    ]


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ("well=28B2E4551E000055", "none of control, return, ambient, chiller_out, same_place"),
        ("control=28B2", "not 16 hex digits"),
        ("control=28B2E4551E00005X", "not 16 hex digits"),
    ],
)
def test_a_probe_mistyped_is_told_what_there_is(given: str, why: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="2"):
        _parser().parse_args([*KETTLE, "--probe", given])
    assert why in capsys.readouterr().err
