"""The heat: element, wall and the liquid column, over one short step.

The column is five nodes - top, three cells (of the bed, or of plain liquid) and the bottom zone - with liquid moving up
or down through the four faces between them, heat creeping or convecting across the same faces, and the pump taking
liquid from the bottom to the top. Temperatures after the step are found implicitly (backward Euler): a face may carry
more in a step than a node holds, as it does with a strong pump and little liquid, and the result stays stable and
between its neighbours. The wall is slow and goes explicitly.
"""

from __future__ import annotations

from typing import NamedTuple

from kettlesim.plant.body import Body
from kettlesim.plant.state import Heat

_GLOW_K = 600.0
"""How far over the room a bare element comes to glow, roughly: radiation is what it has left."""


Capacities = tuple[float, float, float, float, float]


class Moves(NamedTuple):
    """What moves during one step. Moved liquid is in J/K of its heat capacity."""

    dt_s: float
    ambient_c: float
    heater_w: float
    cover_fraction: float
    """Of the element, by liquid."""
    fill_fraction: float
    """Of the wall's inner surface, wetted."""
    bed: bool
    """Grain stands in the cells: no free convection there."""
    pumped_j_per_k: float
    """From the bottom to the top."""
    cooled_fraction: float
    """Of its difference from the coolant, what the chiller takes off a stream from the bottom."""
    coil_per_s: float
    """Of the difference between liquid and coolant, the share that a coil in the kettle takes off per second."""
    coolant_c: float
    out_j_per_k: float
    """From the bottom to the fermenter."""
    drained_j_per_k: float
    """From a lifted basket into the top."""
    drained_c: float
    vapour_j_per_k: float
    """Liquid lost from the top by evaporation."""
    surface_j: float
    """Lost by the top with it as latent heat, and by convection."""


class Solved(NamedTuple):
    """Temperatures after the step, and the heat that left with each stream during it."""

    element_c: float
    wall_c: float
    top_c: float
    high_c: float
    mid_c: float
    low_c: float
    bottom_c: float
    outside_j: float
    """From the wall and from a bare element to the room."""
    chilled_j: float


def solved(body: Body, heat: Heat, before: Capacities, after: Capacities, moves: Moves) -> Solved:  # noqa: PLR0915
    """The column after ``moves``; ``before`` and ``after`` are the nodes' capacities (J/K), top to bottom, with grain.

    What the moves bring in less what they take out must be the difference of the two sums; how much then crosses each
    face follows. Long, because it is one elimination: calls inside it would cost more than all its sums.
    """
    element_c, wall_c, t0, t1, t2, t3, t4 = heat[:7]
    c0, c1, c2, c3, c4 = before
    d0, d1, d2, d3, d4 = after
    dt_s, ambient_c, _, _, _, _, pumped, cooled, coil_per_s, coolant_c, out, drained, drained_c, vapour, surface_j = (
        moves
    )

    # Liquid through the faces, positive downwards.
    f0 = c0 - d0 + pumped + drained - vapour
    f1 = f0 + c1 - d1
    f2 = f1 + c2 - d2
    f3 = f2 + c3 - d3
    # Heat across the faces: free convection where the lower liquid is the warmer one, else creeping.
    still = body.still_w_per_k * dt_s
    lively = still if moves.bed else still + body.buoyant_w_per_k * dt_s
    g0 = lively if t1 > t0 else still
    g1 = lively if t2 > t1 else still
    g2 = lively if t3 > t2 else still
    g3 = lively if t4 > t3 else still
    down0, up0 = (g0 + f0, g0) if f0 > 0.0 else (g0, g0 - f0)
    down1, up1 = (g1 + f1, g1) if f1 > 0.0 else (g1, g1 - f1)
    down2, up2 = (g2 + f2, g2) if f2 > 0.0 else (g2, g2 - f2)
    down3, up3 = (g3 + f3, g3) if f3 > 0.0 else (g3, g3 - f3)

    # The wall takes from each node in proportion to its capacity, at the temperatures before the step.
    whole = c0 + c1 + c2 + c3 + c4
    share = body.wall_inside_w_per_k * moves.fill_fraction * dt_s / whole
    to_wall_j = share * (c0 * t0 + c1 * t1 + c2 * t2 + c3 * t3 + c4 * t4 - whole * wall_c)
    outside_j = body.wall_outside_w_per_k * dt_s * (wall_c - ambient_c)
    kept, from_wall = 1.0 - share, share * wall_c
    # The element is eliminated beforehand: its only unknown is the bottom's new temperature.
    warms = body.element_w_per_k * moves.cover_fraction * dt_s
    glows = body.heater_w / _GLOW_K * (1.0 - moves.cover_fraction) * dt_s
    element_whole = body.element_j_per_k + warms + glows
    element_j = body.element_j_per_k * element_c + moves.heater_w * dt_s + glows * ambient_c
    passed = warms / element_whole

    # Elimination, top to bottom: t = p + r * (new t4) + s * (new t of the node below). The pump makes the r.
    coil = coil_per_s * dt_s
    coil_kept = from_wall + coil * coolant_c
    inverse = 1.0 / (d0 + down0 + coil * c0)
    p0 = c0 * (t0 * kept + coil_kept) - vapour * t0 - surface_j + drained * drained_c + pumped * cooled * coolant_c
    p0 *= inverse
    r0 = pumped * (1.0 - cooled) * inverse
    s0 = up0 * inverse
    inverse = 1.0 / (d1 + up0 + down1 + coil * c1 - down0 * s0)
    p1 = (c1 * (t1 * kept + coil_kept) + down0 * p0) * inverse
    r1 = down0 * r0 * inverse
    s1 = up1 * inverse
    inverse = 1.0 / (d2 + up1 + down2 + coil * c2 - down1 * s1)
    p2 = (c2 * (t2 * kept + coil_kept) + down1 * p1) * inverse
    r2 = down1 * r1 * inverse
    s2 = up2 * inverse
    inverse = 1.0 / (d3 + up2 + down3 + coil * c3 - down2 * s2)
    p3 = (c3 * (t3 * kept + coil_kept) + down2 * p2) * inverse
    r3 = (down2 * r2 + up3) * inverse
    t4 = (c4 * (t4 * kept + coil_kept) + passed * element_j + down3 * p3) / (
        d4 + up3 + pumped + out + coil * c4 + warms * (1.0 - passed) - down3 * r3
    )
    t3 = p3 + r3 * t4
    t2 = p2 + r2 * t4 + s2 * t3
    t1 = p1 + r1 * t4 + s1 * t2
    t0 = p0 + r0 * t4 + s0 * t1

    element_c = (element_j + warms * t4) / element_whole
    wall_c += (to_wall_j - outside_j) / body.wall_j_per_k
    outside_j += glows * (element_c - ambient_c)
    chilled_j = (pumped + out) * cooled * (t4 - coolant_c)
    if coil > 0.0:
        chilled_j += coil * (c0 * t0 + c1 * t1 + c2 * t2 + c3 * t3 + c4 * t4 - whole * coolant_c)
    return Solved(element_c, wall_c, t0, t1, t2, t3, t4, outside_j, chilled_j)
