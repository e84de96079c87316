"""A service that drives an electric brewing kettle from probe readings to heater and pump."""

from __future__ import annotations

__version__ = "0.1.0"
