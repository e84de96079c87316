"""Bitterness of hops by Tinseth's fit."""

from __future__ import annotations

from math import expm1


def bigness(at_sg: float) -> float:
    """How much less of the alpha acid a strong wort takes up, 1.030 to 1.120 (Tinseth)."""
    return float(1.65 * 0.000125 ** (at_sg - 1.0))


def boil_time_factor(boil_min: float) -> float:
    """How much of it a boil brings over, at sea level (Tinseth); 0.24 at most."""
    return -expm1(-0.04 * boil_min) / 4.15


def utilisation(at_sg: float, boil_min: float) -> float:
    """Share of the alpha acid that ends as iso-alpha acid in the wort.

    G. Tinseth, realbeer.com/hops/research.html: structure and definition read there, constants partly from memory.
    Fitted to leaf hops in small kettles; another kettle's truth may differ by a quarter.
    """
    return bigness(at_sg) * boil_time_factor(boil_min)


def ibu(grams: float, alpha_fraction: float, volume_l: float, utilised_fraction: float) -> float:
    """Milligrams of iso-alpha acid per litre of finished wort."""
    return utilised_fraction * alpha_fraction * grams * 1000.0 / volume_l
