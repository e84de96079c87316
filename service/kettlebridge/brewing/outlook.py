"""The rest of the day from what is in the kettle: litres and extract forward into the fermenter, and to the beer.

Two balances, nothing else: extract is neither lost nor won by boiling, and what boils away is water. Litres at 20 °C.
"""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.brewing import alcohol
from kettlebridge.brewing.bitterness import ibu, utilisation
from kettlebridge.brewing.extract import EXTRACT_L_PER_KG, plato_of
from kettlebridge.brewing.gravity import sg
from kettlebridge.brewing.isomerisation import Span, boil_minutes
from kettlebridge.model.units import MIN_PER_H


@dataclass(frozen=True, slots=True, kw_only=True)
class Bitter:
    """Hops of one time: `minutes` at 100 °C of their whole hot time. `lies_in`: a longer boil is longer for them too.

    Hops that still wait count back from the boil's end, and wait longer instead.
    """

    alpha_g: float
    minutes: float
    lies_in: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What is in the kettle, and what is still to happen to it if the day goes on as it is.

    `begun_sg`: the wort as its boil begins. `vapour_l` rises yet on the way to the boil. `dissolves_kg` of extract are
    still to go in and take `dissolves_l`; `kept_l` stays behind in kettle and hops. `waits_min` before the boil's end
    is the earliest of what still waits to go in. `hops` None: not known.
    """

    volume_l: float
    extract_kg: float
    begun_sg: float
    boil_c: float
    boil_left_min: float
    boil_off_l_per_h: float
    kept_l: float
    attenuation_fraction: float
    hops: tuple[Bitter, ...] | None
    vapour_l: float = 0.0
    dissolves_kg: float = 0.0
    dissolves_l: float = 0.0
    waits_min: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What the brewer does about it; `minutes` less than none boil shorter, `extract_kg` is what dissolves."""

    minutes: float = 0.0
    water_l: float = 0.0
    extract_kg: float = 0.0


AS_IT_IS = Change()


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """What comes of it. `end_l` is in the kettle after the boil; `bitterness_ibu` None: not known."""

    end_l: float
    extract_kg: float
    fermenter_l: float
    original_sg: float
    final_sg: float
    alcohol_percent: float
    bitterness_ibu: float | None


def ends(standing: Standing, change: Change = AS_IT_IS) -> Ends:
    """Forward from `standing`. Raises ValueError: it boils dry, or more extract than any wort holds."""
    boiled_l = standing.boil_off_l_per_h * (standing.boil_left_min + change.minutes) / MIN_PER_H
    end_l = standing.volume_l - standing.vapour_l - boiled_l + standing.dissolves_l
    end_l += change.water_l + EXTRACT_L_PER_KG * change.extract_kg
    if end_l <= 0.0:
        raise ValueError(f"{standing.volume_l:.1f} L boil dry before the boil is over")
    extract_kg = standing.extract_kg + standing.dissolves_kg + change.extract_kg
    original_sg = sg(plato_of(extract_kg, end_l))
    final_sg = alcohol.final_sg(original_sg, standing.attenuation_fraction)
    return Ends(
        end_l=end_l,
        extract_kg=extract_kg,
        fermenter_l=end_l - standing.kept_l,
        original_sg=original_sg,
        final_sg=final_sg,
        alcohol_percent=alcohol.alcohol_by_volume(original_sg, final_sg),
        bitterness_ibu=_bitterness_ibu(standing, change.minutes, original_sg, end_l),
    )


def _bitterness_ibu(standing: Standing, more_min: float, original_sg: float, end_l: float) -> float | None:
    if standing.hops is None:
        return None
    mean_sg = (standing.begun_sg + original_sg) / 2.0
    more = abs(more_min) * boil_minutes((Span(minutes=1.0, from_c=standing.boil_c, to_c=standing.boil_c),))
    more = -more if more_min < 0.0 else more
    total_ibu = 0.0
    for hop in standing.hops:
        minutes = max(hop.minutes + (more if hop.lies_in else 0.0), 0.0)
        total_ibu += ibu(hop.alpha_g, 1.0, end_l, utilisation(mean_sg, minutes))
    return total_ibu
