"""Every fault of the table on a board at the end of a real pty: what a host then sees, and that it can be undone.

Virtual time; the host heats for a minute each time and looks for signs. A sound kettle shows none.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Mapping, Sequence
from dataclasses import dataclass, replace

import pytest

from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import KettleFile, SerialLineBridge, load_kettle
from kettlebridge.model.kettle import ProbeRole
from kettlebridge.model.reading import BoardInput
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlebridge.simulated.kettle import body_of
from kettlebridge.simulated.wire_rig import WireRig
from kettlebridge.simulated.wires import rigged
from kettlesim.acts import AddWater, GrainIn
from kettlesim.faults.rig import CableRig
from kettlesim.faults.table import ON_A_WIRE, Fault
from kettlesim.wire_serial.fittings import Input
from kettlesim.world import World
from tests.simulator_wire.host import Host

FILLED_L, FILLED_C = 20.0, 60.0
IN_ITS_PLACE = (ProbeRole.CONTROL, ProbeRole.SAME_PLACE)
OFF_BY_C = 0.7
STANDS_S, RESTS_S, TESTS_S, HEATS_S = 150, 10, 8, 60
CALM_S = 400.0

SIGNS: dict[str, set[str]] = {
    "element-open": {"no heat"},
    "no-mains": {"no heat"},
    "half-drained": {"half empty", "level", "no heat", "no flow"},
    "heater-welded": {"heat unasked"},
    "heater-welded-heating": {"heat unasked"},
    "both-welded": {"heat unasked", "contactor welded"},
    "both-welded-by-hand": {"heat unasked", "contactor welded"},
    "output-stuck": {"heat unasked", "output stuck"},
    "probe-silent": {"no reading"},
    "probe-garbage": {"odd reading"},
    "probe-power-on": {"odd reading"},
    "probe-mostly-bad": {"odd reading"},
    "probe-frozen": {"odd reading"},
    "probe-in-air": {"odd reading"},
    "probe-in-air-rinsing": {"odd reading"},
    "twin-drifts": {"odd reading"},
    "probe-climbs": {"odd reading"},
    "heat-leaks": {"loses heat"},
    "pump-stops": {"no flow"},
    "cut-out": {"cut-out", "no heat", "no flow"},
    "level": {"level", "no heat", "no flow"},
    "board-restarts": {"restarts"},
    "pump-welded": {"flow unasked"},
    "bed-stuck": {"no flow", "level", "no heat"},
    "link-lost": {"silent", "no heat", "no flow"},
    "cable-loose": {"silent", "no heat", "no flow"},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Second:
    """One of a look: what was demanded, what the kettle did, what the board told in it, and what was true then."""

    h: int
    k: int
    p: int
    heat_j: float
    told: Mapping[str, str] | None
    true_c: float

    def reads(self, name: str) -> bool:
        """Whether the board told of that input."""
        return self.told is not None and Input[name] in Input(int(self.told["d"], 16))


class Bench:
    """A host that looks at a rigged kettle as a service does: what it demands, it renews every second."""

    def __init__(self, file: KettleFile, rig: WireRig, host: Host) -> None:
        self.rig = rig
        self._host = host
        self._heater_w = file.kettle.heater_w
        self._watched = [n for n, probe in enumerate(file.kettle.probes) if probe.role in IN_ITS_PLACE]
        self._loss_w_per_k = rig.world.body.wall_outside_w_per_k
        self._flows = BoardInput.FLOW in file.kettle.inputs
        self._since = 0

    async def stand(self, fault: Fault[CableRig]) -> None:
        """Lets it have its way."""
        for second in range(STANDS_S):
            fault.act(self.rig, float(second))
            await self._host.wait(1.0)

    async def calm(self) -> None:
        """Lets probes and bed come to rest."""
        await self._host.wait(CALM_S)
        self._since = len(self._host.heard)

    async def signs(self) -> set[str]:
        """Of all that is not as it should be."""
        await self._host.claim()
        seconds = [
            *[await self._second(k=1) for _ in range(RESTS_S)],
            *[await self._second(h=1000) for _ in range(TESTS_S)],
            await self._second(),
            *[await self._second(k=1) for _ in range(2)],
            *[await self._second(h=1000, k=1, p=1) for _ in range(HEATS_S)],
        ]
        resting = seconds[2:RESTS_S]
        testing = seconds[RESTS_S + 2 : RESTS_S + TESTS_S]
        heating = seconds[-HEATS_S // 2 :]
        told = [one for one in seconds if one.told is not None]
        found = {
            "heat unasked": self._power(resting) > 0.5,
            "contactor welded": self._power(testing) > 0.5,
            "no heat": self._power(heating) < 0.5,
            "output stuck": all(one.told["h"] == "1000" for one in told if one.told and not one.h) and bool(told),
            "flow unasked": any(one.reads("FLOW") for one in resting),
            "no flow": self._flows and not any(one.reads("FLOW") for one in heating),
            "cut-out": any(one.reads("CUTOUT") for one in seconds),
            "level": any(one.reads("LEVEL_LOW") for one in seconds),
            "no reading": any("E" in reading for one in told for reading in self._readings(one)),
            "odd reading": any(map(self._is_odd, told)),
            "silent": len(told) < 0.5 * len(seconds),
            "restarts": len(self._boots()) > 1,
            "half empty": self.rig.world.truth().volume_l < 0.7 * FILLED_L,
            "loses heat": self.rig.world.body.wall_outside_w_per_k > 1.5 * self._loss_w_per_k,
        }
        return {sign for sign, is_so in found.items() if is_so}

    async def _second(self, *, h: int = 0, k: int = 0, p: int = 0) -> Second:
        before_j, heard = self.rig.world.truth().electric_j, len(self._host.heard)
        self._host.demand(h=h, k=k, p=p)
        await self._host.wait(1.0)
        told = [frame.values for _, frame in self._host.heard[heard:] if frame.kind == "T"]
        truth = self.rig.world.truth()
        return Second(
            h=h, k=k, p=p, heat_j=truth.electric_j - before_j, told=told[-1] if told else None, true_c=truth.probe_c
        )

    def _power(self, seconds: Sequence[Second]) -> float:
        """Of the heater's, as a fraction."""
        return sum(one.heat_j for one in seconds) / (self._heater_w * len(seconds))

    def _boots(self) -> set[str]:
        return {frame.values["boot"] for _, frame in self._host.heard[self._since :] if frame.kind == "B"}

    def _readings(self, one: Second) -> list[str]:
        return [] if one.told is None else [one.told[f"t{n}"].partition("/")[0] for n in self._watched]

    def _is_odd(self, one: Second) -> bool:
        return any("E" not in told and abs(float(told) - one.true_c) > OFF_BY_C for told in self._readings(one))


@contextlib.asynccontextmanager
async def bench(clock: PacedClock, kettle: str) -> AsyncIterator[Bench]:
    """An example kettle that tells of its cut-out, filled, with grain in it, behind its cable."""
    file = load_kettle(config_folder() / "kettles" / f"{kettle}.toml")
    file = replace(file, kettle=replace(file.kettle, inputs=file.kettle.inputs | BoardInput.CUTOUT))
    world = World(body_of(file.kettle), seed=1, probe_offset_c=0.0)
    world.act(AddWater(FILLED_L, FILLED_C))
    world.act(GrainIn(4.0, FILLED_C))
    wire, rig = rigged(file, clock, world, seed=1)
    assert isinstance(wire.file.bridge, SerialLineBridge)
    task = asyncio.create_task(wire.run(), name="rigged board")
    await asyncio.sleep(0)
    host = Host(clock, wire.file.bridge.port)
    try:
        one = Bench(file, rig, host)
        await host.claim()
        await one.calm()
        yield one
    finally:
        host.end.close()
        task.cancel()
        await asyncio.wait((task,))


def test_a_sound_kettle_shows_no_sign() -> None:
    async def day(clock: PacedClock) -> None:
        async with bench(clock, "ferryman") as one:
            assert await one.signs() == set()
            assert await one.signs() == set()

    run_paced(day)


def test_the_table_of_signs_is_of_all_faults_on_a_wire() -> None:
    assert set(SIGNS) == {fault.name for fault in ON_A_WIRE}


@pytest.mark.parametrize("fault", ON_A_WIRE, ids=lambda fault: fault.name)
def test_each_fault_shows_its_signs_on_the_wire_and_none_once_it_is_mended(fault: Fault[CableRig]) -> None:
    async def day(clock: PacedClock) -> None:
        async with bench(clock, "saddle" if "same_place" in fault.needs else "ferryman") as one:
            await one.stand(fault)
            assert await one.signs() == SIGNS[fault.name]
            fault.mend(one.rig)
            await one.calm()
            assert await one.signs() == set()

    run_paced(day)
