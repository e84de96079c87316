"""Pure decisions: one tick takes readings and commands and returns the new state, demands and events."""

from __future__ import annotations
