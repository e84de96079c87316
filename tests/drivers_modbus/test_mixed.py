"""Mixed boards on real wires: relays on a serial board, the leading probe on a Modbus line, another on a third."""

from __future__ import annotations

from pathlib import Path

import pytest

from kettlebridge.files.kettle_file import KettleFile, load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import Profile
from kettlebridge.model.reading import BoardStanding
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.simulated import demo_day
from kettlebridge.simulated.modbus import simulated_modules
from kettlesim.wire_modbus.line import ModbusLine
from tests.cli.kettles import example, short_day
from tests.scenarios.whole_day import Told, lived

PROBES = """
[also.rail]
kind = "modbus"
port = "/dev/ttyUSB0"

[also.shed]
kind = "modbus"
port = "/dev/ttyUSB1"

[probe.sleeve]
bridge = "rail"
source = "1/input_registers/0"
role = "control"

[probe.sleeve.modbus]
scale = 0.01

[probe.cabin]
bridge = "shed"
source = "1/input_registers/0"
role = "ambient"

[probe.cabin.modbus]
scale = 0.1

[relay.heater]
"""


@pytest.fixture
def lines(monkeypatch: pytest.MonkeyPatch) -> list[ModbusLine]:
    """The simulated lines of a day, as they are made: rail, then shed."""
    made: list[ModbusLine] = []

    def kept(*how: object) -> ModbusLine:
        made.append(simulated_modules(*how))  # type: ignore[arg-type]
        return made[-1]

    monkeypatch.setattr("kettlebridge.simulated.wires.simulated_modules", kept)
    monkeypatch.setattr(demo_day, "LEFT_ALONE_S", 30.0)
    return made


@pytest.fixture
def day(tmp_path: Path) -> tuple[KettleFile, Profile]:
    """Thimble with its probes elsewhere, and a short day."""
    text = example("thimble").read_text()
    begin, end = text.index("[probe.wall]"), text.index("[relay.heater]\n")
    path = tmp_path / "mixed.toml"
    path.write_text(text[:begin] + PROBES + text[end:].removeprefix("[relay.heater]\n"))
    return load_kettle(path), load_profile(short_day(tmp_path))


class Meddler(Told):
    """Silences a line's modules as soon as the kettle heats."""

    def __init__(self, lines: list[ModbusLine], which: int) -> None:
        super().__init__()
        self.silenced_s: float | None = None
        self.held_s: float | None = None
        self.off_s: float | None = None
        self._lines = lines
        self._which = which

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """Looks, and meddles once."""
        super().publish(snapshot, events)
        if self.silenced_s is None and snapshot.outputs.board_heater_permille:
            self.silenced_s = snapshot.now_s
            for module in self._lines[self._which].modules.values():
                module.silent = True
        if self.silenced_s is not None and self.held_s is None and snapshot.state is BatchState.HELD:
            self.held_s = snapshot.now_s
        if self.held_s is not None and self.off_s is None and snapshot.outputs.board_heater_permille == 0:
            self.off_s = snapshot.now_s


def test_a_day_on_three_boards_completes(
    day: tuple[KettleFile, Profile], lines: list[ModbusLine], tmp_path: Path
) -> None:
    told = lived(*day, tmp_path / "state")
    assert told.state is BatchState.COMPLETE
    assert len(lines) == 2
    assert all(module.requests > 100 for line in lines for module in line.modules.values())
    assert told.last is not None
    assert told.last.boards == tuple(BoardStanding(name=name, linked=True) for name in ("bridge", "rail", "shed"))


def test_the_example_kettle_on_modbus_brews_as_its_file_says(tmp_path: Path) -> None:
    """Another speed, parity, scale and inputs than the demonstration's own wiring."""
    told = lived(load_kettle(example("lockhouse")), load_profile(short_day(tmp_path)), tmp_path / "state")
    assert told.state is BatchState.COMPLETE


def test_the_leading_probe_s_board_falls_silent_and_the_heat_ends(
    day: tuple[KettleFile, Profile], lines: list[ModbusLine], tmp_path: Path
) -> None:
    """Promise 8."""
    meddler = Meddler(lines, which=0)
    lived(*day, tmp_path / "state", told=meddler)
    assert meddler.silenced_s is not None
    assert meddler.held_s is not None
    assert meddler.off_s is not None
    assert meddler.off_s - meddler.silenced_s <= 5.0
    troubles = {event.get("probe") for _, event in meddler.events if event.code is EventCode.PROBE}
    assert "sleeve" in troubles


def test_the_room_s_probe_falls_silent_and_the_day_goes_on(
    day: tuple[KettleFile, Profile], lines: list[ModbusLine], tmp_path: Path
) -> None:
    meddler = Meddler(lines, which=1)
    lived(*day, tmp_path / "state", told=meddler)
    assert meddler.silenced_s is not None
    assert meddler.held_s is None
    assert meddler.state is BatchState.COMPLETE
    faults = [event for _, event in meddler.events if event.code is EventCode.PROBE and event.get("probe") == "cabin"]
    assert faults[-1].get("fault") == "no_answer"
