"""A batch beside its plan as titled tables of text."""

from __future__ import annotations

from collections.abc import Sequence

from kettlebridge.brewing.beside_plan import Beside
from kettlebridge.brewing.brewed import Brewed
from kettlebridge.brewing.hop_plan import HopLine
from kettlebridge.brewing.kettle_figures import Proposal
from kettlebridge.documents.sheet_sections import Section

BESIDE_WORDS: dict[str, tuple[str, str]] = {
    "water_l": ("Water in, to the boil", "{:.1f} L"),
    "strike_error_c": ("Mash off its first rest", "{:+.1f} °C"),
    "pre_boil_l": ("Before the boil", "{:.1f} L"),
    "pre_boil_sg": ("... gravity", "{:.3f}"),
    "efficiency_percent": ("Efficiency", "{:.0f} %"),
    "absorption_l_per_kg": ("Stays in the grain", "{:.2f} L/kg"),
    "boil_off_l_per_h": ("Boils off", "{:.2f} L/h"),
    "post_boil_l": ("After the boil", "{:.1f} L"),
    "original_sg": ("Original gravity", "{:.3f}"),
    "bitterness_ibu": ("Bitterness", "{:.0f} IBU"),
}
"""What each figure is called, and how it is written."""

NOT_MEASURED = "not measured"


def after_sections(
    day: Brewed, rows: Sequence[Beside], hops: Sequence[HopLine], found: Sequence[Proposal]
) -> tuple[Section, ...]:
    """Everything; empty tables are left out."""
    made = (figures(rows), _steps(day), _additions(day), _hops(hops), _proposals(found))
    return tuple(section for section in made if section.rows)


def figures(rows: Sequence[Beside]) -> Section:
    """Volumes, gravities and what the kettle did to them."""
    written = []
    for row in rows:
        name, form = BESIDE_WORDS[row.key]
        planned = "" if row.planned is None else form.format(row.planned)
        came = NOT_MEASURED if row.came is None else form.format(row.came)
        written.append((name, planned, came))
    return Section(title="Figures, at 20 °C", head=("", "planned", "came"), rows=tuple(written))


def _steps(day: Brewed) -> Section:
    rows = tuple((step.name, _minutes(step.planned_min), _minutes(step.lived_min)) for step in day.steps)
    return Section(title="Steps, minutes with their ramps", head=("", "planned", "lasted"), rows=rows)


def _minutes(value: float | None) -> str:
    return "" if value is None else f"{value:.0f}"


def _additions(day: Brewed) -> Section:
    rows = tuple((each.name, f"{each.planned_min:.1f}", f"{each.made_min:.1f}") for each in day.additions)
    return Section(title="Additions, minutes before the end of their step", head=("", "planned", "made"), rows=rows)


def _hops(hops: Sequence[HopLine]) -> Section:
    rows = tuple(
        (line.hop.name, f"{line.hop.grams:.0f} g", f"{line.boil_minutes:.0f}", f"{line.bitterness_ibu:.1f}")
        for line in hops
    )
    head = ("", "", "minutes at 100 °C", "IBU")
    return Section(title="Hops, by the temperatures they had", head=head, rows=rows)


def _proposals(found: Sequence[Proposal]) -> Section:
    rows = tuple(
        (
            each.key,
            f"{each.now:.2f}",
            f"{each.found:.2f}",
            "" if each.spread is None else f"± {each.spread:.2f}",
            str(each.batches),
            "change it" if each.worth_taking else "calibrate" if each.differs else "leave it",
        )
        for each in found
    )
    head = ("", "file", "found", "spread", "batches", "")
    return Section(title="Kettle file, from the last batches", head=head, rows=rows)
