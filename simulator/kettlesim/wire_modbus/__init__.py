"""Virtual modules on a Modbus RTU line, written from the open standard alone: a second implementation is the check."""

from __future__ import annotations
