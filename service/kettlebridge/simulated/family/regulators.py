"""The regulators that are compared, by the name that `--regulator` takes: one row for each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from kettlebridge.model.kettle import MashTarget, RegulatorKind
from kettlebridge.simulated.family.course import Regulator
from kettlebridge.simulated.family.ours import ours
from kettlebridge.simulated.family.perfect import Perfect
from kettlebridge.simulated.family.rivals import Thermostat, hand_picked


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """`made` gives a fresh regulator for each kettle."""

    words: str
    made: Callable[[], Regulator]


REGULATORS: dict[str, Entry] = {
    "thermostat": Entry(words="thermostat 1 °C", made=Thermostat),
    "pid_a": Entry(words="simple_pid 10/0.1/0", made=hand_picked("pid_a")),
    "pid_b": Entry(words="simple_pid 50/0.1/0", made=hand_picked("pid_b")),
    "simc_probe": Entry(words="pid (SIMC), probe", made=ours(RegulatorKind.PID, MashTarget.PROBE)),
    "simc": Entry(words="pid (SIMC), bed", made=ours(RegulatorKind.PID, MashTarget.BED)),
    "model_probe": Entry(words="model, probe", made=ours(RegulatorKind.MODEL, MashTarget.PROBE)),
    "model": Entry(words="model, bed", made=ours(RegulatorKind.MODEL, MashTarget.BED)),
    "perfect": Entry(words="perfect information", made=Perfect),
}
