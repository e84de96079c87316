"""The core that serves: what a composition root hands to keepers, recovery and replay."""

from __future__ import annotations

from kettlebridge.core.forecast import forecast
from kettlebridge.core.snapshot import snapshot
from kettlebridge.core.state import State, initial
from kettlebridge.core.tick import tick
from kettlebridge.runtime.fold import Core

KETTLE_CORE: Core[State] = Core(initial=initial, tick=tick, snapshot=snapshot, forecast=forecast)
"""The pure functions of `kettlebridge.core`."""
