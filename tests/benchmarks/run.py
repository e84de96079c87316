"""Measures what docs/benchmarks.md tells. `--write FILE` puts the figures there; without it they are printed.

`--only WORDS` measures the rows with these words in their names; with `--write` the other rows of FILE stay as they
are. `--crowd-min 1` lets the crowd look for a minute.

Nothing here is a test: a loaded machine makes figures worse, never a build red.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import bridges_cost, core_cost, page_cost, process_cost, wire_speed
from tests.benchmarks.figure import Figure

PAGE_HEAD = """# Benchmarks

Made by `make bench ARGS="--write docs/benchmarks.md"`; with `--only WORDS` just the rows with these words in their
names. The load is the machine's in the minute before a row: what others do makes every figure worse. The reference day
has 6.5 h (23,400 ticks). Medians of several runs unless said. On the simulator, no hardware.

Where a tick's time goes, in about parts of a hundred: the regulator 20 (half of it a filter of five states), the
evidence 15, the sequencer 11, the readings 5, the probes' places and the trail 4, the interlocks 3. The other 40 are
small things, the making of the state, and that together they do not fit where each alone is quick.

The aims were set before anything was built, and where a figure is beyond its aim, the aim is missed. A tick, and with
it the days in a second, is: it comes once a second, so it takes a ten-thousandth of a core, and what would make it
several times as quick (compiled code, one long function) would make it harder to read, which counts for more in what
switches a heater.

"""
TABLE_HEAD = ("| what | aim | measured | how | load |", "|---|---|---|---|---|")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A row: what is measured, what was aimed at, and by which function."""

    name: str
    aim: str
    measured: Callable[[], Figure]


def measures(crowded_s: float) -> tuple[Measure, ...]:
    """Every row, in its order."""
    return (
        Measure(name="one tick", aim="median <= 35 us", measured=core_cost.tick_cost),
        Measure(name="a forecast of the whole day", aim="<= 20 ms", measured=core_cost.forecast_cost),
        Measure(
            name="brew days per second on one core, with the plant", aim=">= 1", measured=core_cost.days_per_second
        ),
        Measure(name="a day over the pty, with the journal", aim=">= 300 x", measured=wire_speed.speed_up),
        Measure(name="memory of serve with one kettle", aim="<= 60 MB", measured=process_cost.memory),
        Measure(name="CPU of serve with one kettle at 1 Hz", aim="<= 2 % of a core", measured=process_cost.cpu),
        Measure(name="from start to the first sample", aim="<= 1 s", measured=process_cost.first_sample),
        Measure(name="plan, start to finish", aim="<= 0.3 s", measured=process_cost.plan),
        Measure(name="the page: first view on a slow telephone", aim="<= 1 s", measured=page_cost.first_view),
        Measure(name="the page: all of the first load", aim="<= 100 kB", measured=page_cost.first_load),
        Measure(name="the page: an update on a slow telephone", aim="<= 25 ms", measured=page_cost.update),
        Measure(name="the page: the picture of twelve hours", aim="<= 10 ms", measured=page_cost.long_trace),
        Measure(
            name="the page: lateness of ticks before a crowd",
            aim="p99.9 <= 50 ms",
            measured=partial(page_cost.crowd, crowded_s),
        ),
        Measure(
            name="the page: memory before a crowd", aim="flat", measured=partial(page_cost.crowd_memory, crowded_s)
        ),
        Measure(
            name="serial line: from a reading to its demand", aim="p99 <= 20 ms", measured=bridges_cost.serial_latency
        ),
        Measure(name="Modbus: from a reading to its demand", aim="p99 <= 200 ms", measured=bridges_cost.modbus_latency),
        Measure(name="MQTT: from a reading to its demand", aim="p99 <= 50 ms", measured=bridges_cost.mqtt_latency),
        Measure(name="serial line: messages, and memory", aim="flat", measured=bridges_cost.serial_load),
        Measure(name="Modbus: messages, and memory", aim="flat", measured=bridges_cost.modbus_load),
        Measure(name="MQTT: messages, and memory", aim="flat", measured=bridges_cost.mqtt_load),
    )


def machine() -> str:
    """What this was measured on."""
    models = [
        line.split(":", 1)[1].strip()
        for line in Path("/proc/cpuinfo").read_text(encoding="ascii").splitlines()
        if line.startswith("model name")
    ]
    model = models[0] if models else platform.machine()
    return f"{model}, {os.cpu_count()} cores, Python {platform.python_version()}"


def row(measure: Measure) -> str:
    """Measured now, as a line of the table."""
    load = os.getloadavg()[0]
    figure = measure.measured()
    print(f"{measure.name}: {figure.text} (aim {measure.aim}); {figure.how}; load {load:.1f}", flush=True)
    return f"| {measure.name} | {measure.aim} | {figure.text} | {figure.how} | {load:.1f} |"


def kept_rows(path: Path | None) -> dict[str, str]:
    """The rows that a page of figures has already, by their names."""
    if path is None or not path.exists():
        return {}
    lines = path.read_text(encoding="utf-8").splitlines()
    rows = [line for line in lines if line.startswith("| ") and line.count("|") == TABLE_HEAD[0].count("|")]
    return {line.split("|")[1].strip(): line for line in rows}


def write(path: Path, rows: Sequence[str]) -> None:
    """The page of figures."""
    lines = (f"Machine: {machine()}.", "", *TABLE_HEAD, *rows)
    path.write_text(PAGE_HEAD + "\n".join(lines) + "\n", encoding="utf-8")


def main() -> int:
    """Measures one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", type=Path, metavar="FILE", help="write the page of figures there")
    parser.add_argument("--only", default="", metavar="WORDS", help="rows with these words in their names")
    parser.add_argument("--crowd-min", type=float, default=page_cost.CROWDED_MIN, help="minutes that the crowd looks")
    args = parser.parse_args()
    print(f"Machine: {machine()}.", flush=True)
    kept = kept_rows(args.write)
    rows = []
    for measure in measures(60.0 * args.crowd_min):
        if args.only in measure.name:
            rows.append(row(measure))
        elif measure.name in kept:
            rows.append(kept[measure.name])
    if args.write is not None:
        write(args.write, rows)
    return 0


if __name__ == "__main__":
    sys.exit(main())
