"""The physics of one kettle, pure: ``step(body, state, inputs, dt_s) -> state``."""

from __future__ import annotations
