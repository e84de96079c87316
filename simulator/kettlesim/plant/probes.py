"""What the thermometers feel, before offset, noise and rounding."""

from __future__ import annotations

from kettlesim.plant.body import Body, Chill
from kettlesim.plant.chain import Moves, Solved
from kettlesim.plant.state import Heat

_DRY_FRACTION = 0.05
"""Of the bottom zone: with less liquid than that the control probe's pocket feels the wall instead."""
_PIPE_S, _IDLE_PIPE_S = 8.0, 300.0
"""How fast a probe in the chiller's outlet follows the stream, and the room without one."""


def felt(body: Body, heat: Heat, column: Solved, moves: Moves) -> tuple[float, float, float, float, float]:
    """Pocket and control probe, pocket and return probe, and the probe in the chiller's outlet, after ``moves``.

    Two equal lags, a pocket and the sensor in it, by the trapezoidal rule: like a real one in its pocket, a reading
    starts off with no slope, and lags a steady ramp by the sum of the two. The return probe sits in the stream that
    the pump brings to the top, and in the liquid there without one.
    """
    dt_s, bottom_c = moves.dt_s, column.bottom_c
    share = body.probe_stream_fraction
    stream_c = share * bottom_c + (1.0 - share) * column.low_c
    old_c = share * heat.bottom_c + (1.0 - share) * heat.low_c
    wet = moves.cover_fraction * body.element_cover_l / (_DRY_FRACTION * body.under_basket_l)
    if wet < 1.0:
        stream_c = old_c = wet * stream_c + (1.0 - wet) * column.wall_c
    back_c, old_back_c = column.top_c, heat.top_c
    outlet_c, pipe_s = moves.ambient_c, _IDLE_PIPE_S
    if moves.pumped_j_per_k > 0.0 or moves.out_j_per_k > 0.0:
        passed_c = bottom_c - moves.cooled_fraction * (bottom_c - moves.coolant_c)
        if moves.pumped_j_per_k > 0.0:
            back_c = old_back_c = passed_c
        if body.chill is Chill.IN_LINE:
            outlet_c, pipe_s = passed_c, _PIPE_S
    gain = 2.0 * dt_s / (body.probe_lag_s + dt_s)
    pocket_c, back_pocket_c = heat.pocket_c, heat.return_pocket_c
    new_pocket_c = pocket_c + gain * (0.5 * (old_c + stream_c) - pocket_c)
    new_back_pocket_c = back_pocket_c + gain * (0.5 * (old_back_c + back_c) - back_pocket_c)
    return (
        new_pocket_c,
        heat.probe_c + gain * (0.5 * (pocket_c + new_pocket_c) - heat.probe_c),
        new_back_pocket_c,
        heat.return_probe_c + gain * (0.5 * (back_pocket_c + new_back_pocket_c) - heat.return_probe_c),
        heat.chiller_out_c + (outlet_c - heat.chiller_out_c) * dt_s / (pipe_s + dt_s),
    )
