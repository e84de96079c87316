"""The day's litres, backwards from the fermenter to the tap; all at 20 °C.

Absorption is apparent: (water in - wort collected) / kg of grain. The wort that the grain truly keeps is larger by the
room of the extract that left it. Dead space is lost once, at the transfer.
"""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.model.units import MIN_PER_H

HOPS_SOAK_L_PER_KG = 6.0
"""Wort that hop pellets keep; leaf keeps more (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Losses:
    """What a day takes from the water and adds to it.

    `added_l`: the room of sugars and extract put into the boil. `climb_vapour_l`: lost on the way to it, lid off.
    """

    dead_space_l: float
    boil_off_l_per_h: float
    boil_min: float
    absorption_l_per_kg: float
    grain_kg: float
    added_l: float = 0.0
    climb_vapour_l: float = 0.0
    hops_kg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Volumes:
    """Litres at 20 °C; `total_water_l` is what the tap must give."""

    into_fermenter_l: float
    post_boil_l: float
    climb_vapour_l: float
    boil_off_l: float
    pre_boil_l: float
    absorbed_l: float
    total_water_l: float


def volumes(into_fermenter_l: float, losses: Losses) -> Volumes:
    """The balance. 20 L + 1 L left behind, 3 L/h for an hour, 5 kg x 0.65 L/kg: 21, 24 and 27.25 L."""
    post_boil_l = into_fermenter_l + losses.dead_space_l + HOPS_SOAK_L_PER_KG * losses.hops_kg
    boil_off_l = losses.boil_off_l_per_h * losses.boil_min / MIN_PER_H
    pre_boil_l = post_boil_l + boil_off_l + losses.climb_vapour_l - losses.added_l
    absorbed_l = losses.absorption_l_per_kg * losses.grain_kg
    return Volumes(
        into_fermenter_l=into_fermenter_l,
        post_boil_l=post_boil_l,
        climb_vapour_l=losses.climb_vapour_l,
        boil_off_l=boil_off_l,
        pre_boil_l=pre_boil_l,
        absorbed_l=absorbed_l,
        total_water_l=pre_boil_l + absorbed_l,
    )
