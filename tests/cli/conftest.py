"""Days that the commands live leave records; the modules that ask for it have each of them replayed."""

from __future__ import annotations

from tests.replaying import records_replay

__all__ = ["records_replay"]
