"""Figures for a scraper, in the text form of Prometheus, from prometheus_client's own small HTTP server.

It answers from the newest snapshots in a thread of its own: a snapshot never changes once it is made.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from prometheus_client import CollectorRegistry, start_http_server
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from kettlebridge.model.alarm import PRESENT
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import OperatorError
from kettlebridge.model.event import Event
from kettlebridge.model.ids import KettleId
from kettlebridge.model.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """A figure of a kettle; None: there is none now, and no sample is given."""

    name: str
    help: str
    value: Callable[[Snapshot], float | None]


GAUGES: tuple[Gauge, ...] = (
    Gauge(name="temperature_celsius", help="At the control probe.", value=lambda s: s.temperature_c),
    Gauge(
        name="target_celsius",
        help="What the step in hand wants.",
        value=lambda s: None if s.step is None else s.step.target_c,
    ),
    Gauge(
        name="step_remaining_seconds",
        help="Of the step's timer.",
        value=lambda s: None if s.step is None else s.step.remaining_s,
    ),
    Gauge(
        name="heater_duty_ratio",
        help="What is demanded, after interlocks, 0 to 1.",
        value=lambda s: s.outputs.heater_duty_fraction,
    ),
    Gauge(name="pump_on", help="1 while the pump is demanded.", value=lambda s: s.outputs.pump_on),
    Gauge(name="linked", help="1 while there is a session with the board.", value=lambda s: s.linked),
    Gauge(name="recorded", help="1 while the record can be written.", value=lambda s: s.recorded),
    Gauge(name="volume_litres", help="By the ledger, at 20 °C.", value=lambda s: s.volume_l),
    Gauge(name="energy_kilowatt_hours", help="Of this batch.", value=lambda s: s.energy_kwh),
    Gauge(
        name="open_calls",
        help="What the brewer is asked for now.",
        value=lambda s: sum(call.raised_s is not None for call in s.calls),
    ),
    Gauge(
        name="alarms",
        help="Alarms whose cause is there now.",
        value=lambda s: sum(record.state in PRESENT for record in s.alarms),
    ),
)


class Metrics(Collector):
    """A listener that keeps the newest snapshot of each kettle, and gives figures when it is asked."""

    def __init__(self) -> None:
        self._newest: dict[KettleId, Snapshot] = {}
        self._events: dict[tuple[str, str], int] = {}

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """Keeps a tick; never waits."""
        self._newest[snapshot.kettle] = snapshot
        for happened in events:
            key = (str(snapshot.kettle), happened.code.value)
            self._events[key] = self._events.get(key, 0) + 1

    def collect(self) -> Iterator[Metric]:
        """All figures now."""
        newest, counted = dict(self._newest), dict(self._events)
        for gauge in GAUGES:
            family = GaugeMetricFamily(f"kettlebridge_{gauge.name}", gauge.help, labels=["kettle"])
            for kettle, snapshot in newest.items():
                value = gauge.value(snapshot)
                if value is not None:
                    family.add_metric([kettle], float(value))
            yield family
        probes = GaugeMetricFamily("kettlebridge_probe_celsius", "Each probe's last value.", labels=["kettle", "probe"])
        states = GaugeMetricFamily(
            "kettlebridge_state", "1 for the state that a batch is in.", labels=["kettle", "state"]
        )
        for kettle, snapshot in newest.items():
            for probe in snapshot.probes:
                if probe.value_c is not None and probe.fault is None:
                    probes.add_metric([kettle, probe.probe], probe.value_c)
            for state in BatchState:
                states.add_metric([kettle, state.value], float(state is snapshot.state))
        ticks = CounterMetricFamily("kettlebridge_ticks", "Ticks of this batch.", labels=["kettle"])
        for kettle, snapshot in newest.items():
            ticks.add_metric([kettle], snapshot.n)
        happenings = CounterMetricFamily("kettlebridge_events", "Events since the start.", labels=["kettle", "code"])
        for (name, code), count in counted.items():
            happenings.add_metric([name, code], count)
        yield from (probes, states, ticks, happenings)


@contextmanager
def exposed(metrics: Metrics, host: str, port: int) -> Iterator[int]:
    """Serves `/metrics` meanwhile; gives the port (for 0, one that was free). Raises OperatorError."""
    registry = CollectorRegistry()
    registry.register(metrics)
    try:
        server, thread = start_http_server(port, addr=host, registry=registry)
    except OSError as error:
        raise OperatorError(f"metrics: port {port} of {host} cannot be used: {error.strerror}") from error
    try:
        yield server.server_port
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
