"""What in a kettle file speaks against leaving the kettle to heat with nobody there."""

from __future__ import annotations

from collections.abc import Callable

from kettlebridge.files.kettle_file import KettleFile, SerialLineBridge
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.model.demand import Output
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


SWITCHES = frozenset({Output.HEATER, Output.MAIN_CONTACTOR})
"""What stands before the element."""


def _restores(file: KettleFile) -> bool:
    return bool(unattended_findings(file))


def _lease_not_shown(file: KettleFile) -> bool:
    """Only on the serial line does the board say itself that it ended a lease.

    A timed-on relay of a module and a node's auto-off are believed while somebody is there; nothing has seen them act.
    """
    return not all(isinstance(board.bridge, SerialLineBridge) for board in file.boards if SWITCHES & set(board.outputs))


BARS: dict[str, Callable[[KettleFile], bool]] = {
    "arm_relay_restores": _restores,
    "arm_lease_not_shown": _lease_not_shown,
}
"""What in its file keeps a kettle from ever being armed, by the reason of the refusal."""


def against_arming(file: KettleFile) -> tuple[str, ...]:
    """The reasons that hold for this kettle; empty: nothing in its file speaks against it."""
    return tuple(reason for reason, holds in BARS.items() if holds(file))
