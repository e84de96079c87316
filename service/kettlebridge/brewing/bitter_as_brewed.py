"""Bitterness from the times and temperatures that each hop really had."""

from __future__ import annotations

from collections.abc import Iterator

from kettlebridge.brewing.bitterness import ibu, utilisation
from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.brewed import Brewed
from kettlebridge.brewing.hop_plan import HopLine
from kettlebridge.brewing.isomerisation import Span, boil_minutes
from kettlebridge.model.plan import StepKind
from kettlebridge.model.recipe import Hop, HopUse
from kettlebridge.model.trace import Trace
from kettlebridge.model.units import S_PER_MIN

COUNTED_C = 50.0
"""Below it a day isomerises less than a minute at the boil does."""


def hops_as_brewed(sheet: Sheet, brewed: Brewed, trace: Trace) -> tuple[HopLine, ...]:
    """Each hop of the kettle side; one that was never confirmed counts for nothing.

    Volume and gravity as measured, else as planned. First-wort hops are in from the begin of the boil's own step on.
    """
    volume_l = brewed.post_boil_l or sheet.litres.post_boil_l
    original_sg = brewed.original_sg or sheet.gravities.original_sg
    mean_sg = ((brewed.pre_boil_sg or sheet.gravities.pre_boil_sg) + original_sg) / 2.0
    left = list(brewed.additions)
    lines = []
    for hop in sheet.recipe.hops:
        if hop.use not in {HopUse.FIRST_WORT, HopUse.BOIL, HopUse.STAND}:
            continue
        made_s = _boil_begun_s(trace) if hop.use is HopUse.FIRST_WORT else None
        match = next((each for each in left if _is(hop, each.name, each.planned_min)), None)
        if match is not None and hop.use is not HopUse.FIRST_WORT:
            left.remove(match)
            made_s = match.made_s
        minutes = 0.0 if made_s is None else boil_minutes(hot_history(trace, made_s))
        bitter = ibu(hop.grams, hop.alpha_fraction, volume_l, utilisation(mean_sg, minutes))
        lines.append(HopLine(hop=hop, boil_minutes=minutes, bitterness_ibu=bitter))
    return tuple(lines)


def _is(hop: Hop, name: str, planned_min: float) -> bool:
    return hop.name == name and abs((hop.before_end_min or 0.0) - planned_min) < 1.0 / S_PER_MIN


def _boil_begun_s(trace: Trace) -> float | None:
    return next((span.begun_s for span in trace.spans if span.kind is StepKind.BOIL), None)


def hot_history(trace: Trace, from_s: float) -> Iterator[Span]:
    """The temperature from a moment on to the end of the wort's day; what was not measured counts as before it."""
    ends_s = _wort_gone_s(trace)
    before_s, before_c = from_s, None
    for at_s, value_c in zip(trace.series.at_s, trace.series.temperature_c, strict=True):
        if at_s > ends_s:
            return
        if value_c is None:
            continue
        if at_s <= from_s:
            before_c = value_c
            continue
        if max(value_c, before_c or value_c) >= COUNTED_C:
            start_c = value_c if before_c is None else before_c
            yield Span(minutes=(at_s - before_s) / S_PER_MIN, from_c=start_c, to_c=value_c)
        before_s, before_c = at_s, value_c


def _wort_gone_s(trace: Trace) -> float:
    """The end of chilling: what is heated after it is water for cleaning."""
    chills = [span for span in trace.spans if span.kind is StepKind.CHILL]
    ended_s = chills[-1].ended_s if chills else None
    return float("inf") if ended_s is None else ended_s
