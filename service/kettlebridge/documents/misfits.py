"""Why a profile does not fit a kettle, with the litres and degrees that show it."""

from __future__ import annotations

from kettlebridge.model.event import Scalar

MISFIT_WORDS: dict[str, str] = {
    "too_much": "{step}: {litres} L would be in the kettle, which holds {capacity_l} L to the brim",
    "element_bare": "{step}: only {litres} L would be in the kettle, and the element is bare below {element_cover_l} L",
    "more_boil_off_than_heat": "{step}: boiling away {boil_off_l_per_h} L/h takes more than the {heater_w} W there are",
    "unattended_without_contactor": "ready_at heats with nobody there: that needs [relay.main_contactor]",
    "no_control_probe": "the kettle has no control probe",
    "other_chiller": "{step}: wants to chill {way}, but this kettle chills {chill}",
    "no_pump": "{step}: wants a pump, and this kettle has none",
    "above_the_boil": "{step}: {target_c} °C is not below this kettle's boil, {boil_c} °C",
}
"""By the code of the core's misfit."""

WAY_WORDS = {"in_kettle": "with a coil in the kettle", "in_line": "in line, on the way to the fermenter"}


def misfit(code: str, values: tuple[tuple[str, Scalar], ...]) -> str:
    """The reason as a sentence without its full stop; `values` are the misfit's own."""
    said = {name: WAY_WORDS.get(str(value), _figure(value)) for name, value in values}
    return MISFIT_WORDS[code].format(**said)


def _figure(value: Scalar) -> str:
    return f"{value:.1f}" if isinstance(value, float) else str(value)
