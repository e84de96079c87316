"""What goes out: telemetry and discovery over MQTT, figures for a scraper, notifications. Nothing comes in here."""

from __future__ import annotations
