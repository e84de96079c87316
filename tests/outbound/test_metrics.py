"""Figures as a scraper gets them, read by prometheus_client's own parser."""

from __future__ import annotations

import asyncio
import socket
import urllib.request

import pytest
from prometheus_client.parser import text_string_to_metric_families

from kettlebridge.model.errors import OperatorError
from kettlebridge.outbound.metrics import GAUGES, Metrics, exposed
from tests.outbound.views import LINK, STAGE, VIEW, view


def fetched(port: int) -> str:
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics", timeout=5) as answer:
        assert answer.headers["Content-Type"].startswith("text/plain")
        return str(answer.read().decode())


def samples(metrics: Metrics) -> dict[tuple[str, tuple[str, ...]], float]:
    """By name and labels; the labels in falling order of their names."""
    with exposed(metrics, "127.0.0.1", 0) as port:
        text = fetched(port)
    return {
        (sample.name, tuple(sample.labels[name] for name in sorted(sample.labels, reverse=True))): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


def test_every_figure_is_scraped_with_its_kettle() -> None:
    metrics = Metrics()
    metrics.publish(view(alarms=(LINK,)), (STAGE, STAGE))
    found = samples(metrics)
    assert found["kettlebridge_temperature_celsius", ("thimble",)] == 66.44
    assert found["kettlebridge_heater_duty_ratio", ("thimble",)] == 0.125
    assert found["kettlebridge_alarms", ("thimble",)] == 1.0
    assert found["kettlebridge_probe_celsius", ("wall", "thimble")] == 66.44
    assert found["kettlebridge_state", ("Running", "thimble")] == 1.0
    assert found["kettlebridge_state", ("Held", "thimble")] == 0.0
    assert found["kettlebridge_events_total", ("thimble", "stage")] == 2.0
    assert {f"kettlebridge_{gauge.name}" for gauge in GAUGES} <= {name for name, _ in found}


def test_unknown_is_no_sample_and_never_a_zero() -> None:
    metrics = Metrics()
    metrics.publish(view(temperature_c=None, step=None, volume_l=None), ())
    names = {name for name, _ in samples(metrics)}
    assert names.isdisjoint({"kettlebridge_temperature_celsius", "kettlebridge_target_celsius"})
    assert ("kettlebridge_probe_celsius", ("kitchen", "thimble")) not in samples(metrics)


def test_before_the_first_tick_there_is_nothing_and_no_failure() -> None:
    assert samples(Metrics()) == {}


def test_port_in_use_is_a_clear_line() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken, pytest.raises(OperatorError, match="cannot be used"):  # noqa: SIM117
        with exposed(Metrics(), "127.0.0.1", taken.getsockname()[1]):
            pass


async def test_scraping_does_not_hold_up_the_loop() -> None:
    metrics = Metrics()
    metrics.publish(VIEW, ())
    with exposed(metrics, "127.0.0.1", 0) as port:
        text = await asyncio.to_thread(fetched, port)
    assert "kettlebridge_linked" in text
