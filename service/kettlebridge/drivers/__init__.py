"""Bridges to boards: each folder holds a codec of bytes and values, and a link that awaits."""

from __future__ import annotations
