"""Nodes on an MQTT broker."""

from __future__ import annotations

from kettlebridge.bridges.fitting import Driver, Fitting
from kettlebridge.drivers.mqtt.link import MqttNodes
from kettlebridge.drivers.mqtt.settings import MqttSettings
from kettlebridge.drivers.mqtt.switching_off import switch_off
from kettlebridge.files.mqtt_bridge import MqttBridge


def settings(bridge: MqttBridge, fitting: Fitting) -> MqttSettings:
    """By the kettle file."""
    return MqttSettings(
        broker=bridge.broker,
        client_id=bridge.client_id,
        lease_s=fitting.kettle.safety.lease_s,
        probes=bridge.probes,
        relays=bridge.relays,
        require_simulated=fitting.require_simulated,
    )


DRIVER = Driver(settings=settings, bridge=MqttNodes, switch_off=switch_off)
