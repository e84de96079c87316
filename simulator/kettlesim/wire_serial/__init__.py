"""A virtual board on the serial wire, written from docs/protocol.md alone: a second implementation is the check."""

from __future__ import annotations
