"""How many of one unit another holds, written once."""

from __future__ import annotations

S_PER_MIN = 60.0
S_PER_H = 3600.0
S_PER_DAY = 24 * S_PER_H
MIN_PER_H = 60.0
G_PER_KG = 1000.0
J_PER_KWH = 3.6e6
FULL_PERMILLE = 1000
