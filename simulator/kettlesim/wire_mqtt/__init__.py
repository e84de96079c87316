"""Simulated Wi-Fi nodes on a real MQTT broker."""

from __future__ import annotations
