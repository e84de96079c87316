"""The systemd unit that ships: what it starts exists, and what it says is what the manual of systemd means.

Directives: systemd.service(5), systemd.exec(5), systemd.resource-control(5) of systemd 252.
"""

from __future__ import annotations

import re
import shlex
import subprocess
from pathlib import Path

import pytest

from kettlebridge.cli.exits import USAGE
from kettlebridge.cli.main import parser
from kettlebridge.runtime.vital_tasks import LATE_S
from tests.house.tree import ROOT

UNIT = ROOT / "config" / "systemd" / "kettlebridge.service"
MOST_EXPOSURE = 2.0


def said() -> list[tuple[str, str]]:
    """Every directive in order."""
    lines = [line for line in UNIT.read_text().splitlines() if line and line[0] not in "#["]
    return [(key, value) for key, _, value in (line.partition("=") for line in lines)]


def value(key: str) -> str:
    (only,) = [value for name, value in said() if name == key]
    return only


@pytest.mark.parametrize("directive", ["ExecStart", "ExecStopPost"])
def test_what_it_starts_is_a_command_line_that_is_understood(directive: str) -> None:
    environment = dict(re.findall(r'"(\w+)=([^"]*)"', value_with("KETTLES")))
    words = re.sub(r"\$(\w+)", lambda found: environment[found[1]], value(directive))
    program, *arguments = shlex.split(words)
    assert Path(program).name == "kettlebridge"
    args = parser(load=set(arguments)).parse_args(arguments)
    assert args.command == {"ExecStart": "serve", "ExecStopPost": "all-off"}[directive]
    assert [str(path) for path in args.kettles] == ["/etc/kettlebridge/kettle.toml"]


def value_with(word: str) -> str:
    (only,) = [value for _, value in said() if f'"{word}=' in value]
    return only


def test_the_watchdog_waits_longer_than_a_vital_task_may_be_late() -> None:
    assert value("Type") == "notify"
    assert float(value("WatchdogSec")) > LATE_S


def test_it_is_started_again_unless_its_files_cannot_be_used() -> None:
    assert value("Restart") == "on-failure"
    assert value("RestartPreventExitStatus") == str(USAGE)


def test_it_runs_as_nobody_special_with_the_serial_ports_alone() -> None:
    assert value("User") not in {"", "root"}
    assert value("SupplementaryGroups") == "dialout"
    assert value("CapabilityBoundingSet") == ""
    assert value("DevicePolicy") == "closed"
    assert all(value.startswith("char-tty") for key, value in said() if key == "DeviceAllow")


def test_systemd_itself_finds_it_well_enclosed() -> None:
    done = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", "--no-pager", f"--threshold={MOST_EXPOSURE * 10:.0f}", UNIT],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout
    figure = re.search(r"Overall exposure level for \S+: ([\d.]+)", done.stdout)
    assert figure
    assert f"`{figure[1]}`" in (ROOT / "docs" / "serving.md").read_text()


def test_systemd_itself_understands_every_line(tmp_path: Path) -> None:
    stand_in = tmp_path / "kettlebridge"
    stand_in.write_text("#!/bin/sh\n")
    stand_in.chmod(0o755)
    unit = tmp_path / UNIT.name
    unit.write_text(UNIT.read_text().replace("/opt/kettlebridge/bin/kettlebridge", str(stand_in)))
    done = subprocess.run(["systemd-analyze", "verify", unit], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def test_the_page_explains_every_directive() -> None:
    page = (ROOT / "docs" / "serving.md").read_text()
    assert [key for key in dict(said()) if f"`{key}" not in page] == []
