"""A thermal simulator of an electric brewing kettle, and virtual boards that speak the same wires as real ones."""

from __future__ import annotations
