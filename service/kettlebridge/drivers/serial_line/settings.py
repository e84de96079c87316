"""What a kettle file says of its serial board."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kettlebridge.model.ids import ProbeName


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialLineSettings:
    """`probes` maps ROM ids to names; upper and lower case are the same in it and in `board_id` (None: any board).

    No order asks for a longer lease than `lease_s`. `require_simulated` refuses a board that drives real loads.
    """

    port: str
    board_id: str | None
    lease_s: float
    probes: Mapping[str, ProbeName]
    require_simulated: bool
