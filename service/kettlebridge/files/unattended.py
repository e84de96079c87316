"""What in a kettle file speaks against leaving the kettle to heat with nobody there."""

from __future__ import annotations

from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.model.errors import Mistake
from kettlebridge.model.mqtt import AfterPowerCut

WHY = {
    AfterPowerCut.RESTORE: "its node comes back switched on as it was",
    AfterPowerCut.ON: "its node comes back switched on",
    None: "nobody says what its node does",
}


def unattended_findings(file: KettleFile) -> tuple[Mistake, ...]:
    """Relays that may switch themselves on after a power cut of their node; empty: nothing is known against it.

    A relay that heats is refused with its file where it is not known to stay off, so what is left here are pumps.
    Boards of the line protocol are off in reset; timed-on relays of a module go off by themselves.
    """
    return tuple(
        file.mistake(
            ("relay", output.value, "mqtt", "after_power_cut"),
            f"{WHY[relay.after_power_cut]} after a power cut: set it up to stay off, then write off here",
        )
        for board in file.boards
        if isinstance(board.bridge, MqttBridge)
        for output, relay in board.bridge.relays.items()
        if relay.after_power_cut is not AfterPowerCut.OFF
    )
