"""What a family's boils are judged by, for each way of bringing a kettle there: one row for each figure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from kettlebridge.simulated.family.boil_course import EASY_NET_FRACTION, Boil, Hand, Wort, boiled, wort_of
from kettlebridge.simulated.family.boil_hands import CutAtTheBoil, FullPower, Service
from kettlebridge.simulated.family.draw import Member

WITHIN_S = 90.0
FALSE_UNDER_C = 1.0
"""Called a boil with the mean of the liquid further under its boil than this: false."""
LEAST_SPILT_L = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """`made` gives who is at the heater."""

    words: str
    made: Callable[[Wort], Hand]


WAYS: dict[str, Way] = {
    "nothing": Way(words="full power, nobody looks", made=FullPower),
    "cut": Way(words="detected, then cut", made=CutAtTheBoil),
    "service": Way(words="taper and detection", made=Service),
}

LIDS = {"lid_on": True, "lid_off": False}


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilMetric:
    """`of` gives the figure of a boil, None where it was never called; `only` says which boils have one."""

    key: str
    words: str
    digits: int
    of: Callable[[Boil], float | None]
    only: Callable[[Boil], bool] = lambda boil: True


def _easy(boil: Boil) -> bool:
    """Boils at full power with 35 % of it to spare."""
    return boil.boils_s is not None and boil.net_fraction >= EASY_NET_FRACTION


def _called_s(boil: Boil) -> float | None:
    return None if boil.called_s is None or boil.boils_s is None else boil.called_s - boil.boils_s


def _error_s(boil: Boil) -> float | None:
    return None if boil.dated_s is None or boil.boils_s is None else boil.dated_s - boil.boils_s


def _late_s(boil: Boil) -> float | None:
    error_s = _error_s(boil)
    return None if error_s is None else abs(error_s)


def _within(boil: Boil) -> float:
    error_s = _error_s(boil)
    return float(error_s is not None and abs(error_s) <= WITHIN_S)


def _uncalled(boil: Boil) -> float:
    return float(boil.called_s is None)


def _over(boil: Boil) -> float:
    return float(boil.boiled_over_l > LEAST_SPILT_L)


def _false(boil: Boil) -> float:
    return float(boil.called_under_c is not None and boil.called_under_c > FALSE_UNDER_C)


BOIL_METRICS: tuple[BoilMetric, ...] = (
    BoilMetric(key="called_s", words="called after the true boil, s", digits=0, of=_called_s, only=_easy),
    BoilMetric(key="error_s", words="dated after the true boil, s", digits=0, of=_error_s, only=_easy),
    BoilMetric(key="off_s", words="the same either way, s", digits=0, of=_late_s, only=_easy),
    BoilMetric(key="within_90_s", words="share dated within 90 s", digits=2, of=_within, only=_easy),
    BoilMetric(key="uncalled", words="share never called, the brewer is asked", digits=2, of=_uncalled),
    BoilMetric(key="false_easy", words="share called falsely", digits=2, of=_false, only=_easy),
    BoilMetric(key="false_all", words="the same, weak heaters too", digits=2, of=_false),
    BoilMetric(key="boiled_over", words="share boiled over", digits=2, of=_over),
    BoilMetric(key="boiled_over_l", words="litres lost over the rim", digits=2, of=lambda boil: boil.boiled_over_l),
    BoilMetric(key="hottest_element_c", words="hottest element °C", digits=1, of=lambda boil: boil.hottest_element_c),
    BoilMetric(
        key="until_boil_min",
        words="from 72 °C to the boil, min",
        digits=1,
        of=lambda boil: None if boil.boils_s is None else boil.boils_s / 60.0,
    ),
)

SHARES = frozenset({"within_90_s", "uncalled", "false_easy", "false_all", "boiled_over"})
"""Metrics that are shares: of them the mean is told."""


def boil_figures(member: Member) -> dict[str, dict[str, float | None]]:
    """Of every way, lid on and off: `way/lid`, metric, figure. The detection figures of nobody looking are left out."""
    figures: dict[str, dict[str, float | None]] = {}
    for lid, stays in LIDS.items():
        wort = wort_of(member, lid_stays=stays)
        for name, way in WAYS.items():
            boil = boiled(wort, way.made(wort))
            figures[f"{name}/{lid}"] = {metric.key: metric.of(boil) for metric in BOIL_METRICS if metric.only(boil)}
    return figures
