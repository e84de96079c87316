"""Boards on a serial line: the codec of its frames, and the link that keeps a session."""

from __future__ import annotations

from kettlebridge.drivers.serial_line.link import SerialLine
from kettlebridge.drivers.serial_line.settings import SerialLineSettings

__all__ = ["SerialLine", "SerialLineSettings"]
