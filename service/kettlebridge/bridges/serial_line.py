"""A board on the serial line."""

from __future__ import annotations

from kettlebridge.bridges.fitting import Driver, Fitting
from kettlebridge.drivers.serial_line.link import SerialLine
from kettlebridge.drivers.serial_line.settings import SerialLineSettings
from kettlebridge.drivers.serial_line.switching_off import switch_off
from kettlebridge.files.kettle_file import SerialLineBridge


def settings(bridge: SerialLineBridge, fitting: Fitting) -> SerialLineSettings:
    """By the kettle file."""
    return SerialLineSettings(
        port=bridge.port,
        board_id=bridge.board_id,
        lease_s=fitting.kettle.safety.lease_s,
        probes={probe.source: probe.name for probe in fitting.board.probes},
        require_simulated=fitting.require_simulated,
    )


DRIVER = Driver(settings=settings, bridge=SerialLine, switch_off=switch_off)
