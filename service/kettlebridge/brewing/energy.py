"""Heat, power, time and electricity."""

from __future__ import annotations

from math import exp, log

BOIL_OFF_W_PER_L_H = 625.67
"""Latent heat of water at 1 atm for a litre an hour, measured at 20 °C (IAPWS-95)."""


def heating_s(
    capacity_j_per_k: float, power_w: float, loss_w_per_k: float, span_c: tuple[float, float, float]
) -> float:
    """Seconds from one temperature to another in a room: `span_c` is (from, to, room). Losses grow with the difference.

    Raises ValueError where losses never let it get there.
    """
    from_c, to_c, room_c = span_c
    if to_c <= from_c:
        return 0.0
    net_from_w = power_w - loss_w_per_k * (from_c - room_c)
    net_to_w = power_w - loss_w_per_k * (to_c - room_c)
    if net_to_w <= 0.0:
        raise ValueError(
            f"{power_w:g} W never bring it to {to_c:g} °C: losses take {loss_w_per_k * (to_c - room_c):.0f} W"
        )
    if loss_w_per_k == 0.0:
        return capacity_j_per_k * (to_c - from_c) / power_w
    return capacity_j_per_k / loss_w_per_k * log(net_from_w / net_to_w)


def cooled_c(from_c: float, room_c: float, loss_w_per_k: float, capacity_j_per_k: float, seconds: float) -> float:
    """Temperature after standing unheated (Newton's law of cooling)."""
    return room_c + (from_c - room_c) * exp(-loss_w_per_k * seconds / capacity_j_per_k)


def before_cooling_c(to_c: float, room_c: float, loss_w_per_k: float, capacity_j_per_k: float, seconds: float) -> float:
    """Temperature that cools to `to_c` in `seconds`: the inverse of `cooled_c`."""
    return room_c + (to_c - room_c) * exp(loss_w_per_k * seconds / capacity_j_per_k)


def most_boil_off_l_per_h(heater_w: float, loss_w_per_k: float, boil_c: float, room_c: float) -> float:
    """The hardest boil that a heater gives, at 20 °C litres; not below 0."""
    return max((heater_w - loss_w_per_k * (boil_c - room_c)) / BOIL_OFF_W_PER_L_H, 0.0)


def boiling_w(boil_off_l_per_h: float, loss_w_per_k: float, boil_c: float, room_c: float) -> float:
    """Power that keeps a boil going."""
    return BOIL_OFF_W_PER_L_H * boil_off_l_per_h + loss_w_per_k * (boil_c - room_c)


def cost(kwh: float, price_per_kwh: float) -> float:
    """In whatever money the price is given."""
    return kwh * price_per_kwh
