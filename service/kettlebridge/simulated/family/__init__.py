"""`bench --family`: many random kettles, several regulators, the simulator's truth."""

from __future__ import annotations
