"""Probes and relays on nodes that speak MQTT: the codec of their payloads, and the link that keeps a session."""

from __future__ import annotations

from kettlebridge.drivers.mqtt.link import MqttNodes
from kettlebridge.drivers.mqtt.settings import MqttSettings

__all__ = ["MqttNodes", "MqttSettings"]
