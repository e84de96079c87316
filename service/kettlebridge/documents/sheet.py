"""A brew sheet as one self-contained HTML file that prints on one page of A4."""

from __future__ import annotations

from html import escape

from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.cautions import Caution, cautions
from kettlebridge.documents.caution_words import caution_words
from kettlebridge.documents.sheet_sections import Section, sections

STYLE = """
@page { size: A4; margin: 11mm }
body { font: 9.2pt/1.28 system-ui, sans-serif; color: #111; background: #fff; max-width: 188mm; margin: 0 auto }
header { display: flex; justify-content: space-between; align-items: baseline; border-bottom: 1.5pt solid #111 }
h1 { font-size: 16pt; margin: 0 } header p { margin: 0 }
h2 { font-size: 10pt; margin: 0 0 1mm; border-bottom: .5pt solid #888 }
main { columns: 2; column-gap: 7mm; margin-top: 3mm }
section { break-inside: avoid; margin: 0 0 3.5mm }
table { border-collapse: collapse; width: 100% } td, th { padding: .35mm 1mm; vertical-align: top }
th { text-align: right; font-weight: normal; color: #555 } td { text-align: right; font-variant-numeric: tabular-nums }
td { white-space: nowrap }
td:first-child, th:first-child { text-align: left; padding-left: 0; white-space: normal }
tr + tr td { border-top: .3pt solid #ddd }
ul { margin: 0; padding-left: 4mm } .stops { font-weight: bold }
footer { border-top: .5pt solid #888; color: #444; font-size: 8pt; padding-top: 1mm }
@media screen and (max-width: 700px) {
  body { font-size: .9rem; padding: 0 .5rem } header { display: block } main { columns: 1 } td { white-space: normal }
}
"""
STOPS = ' class="stops"'
FOOT = (
    "Figures are estimates: measure, write it down, and correct the kettle file. Mash and wort burn within seconds. "
    "Lift nothing over people; a full kettle is never moved."
)


def sheet_page(sheet: Sheet) -> str:
    """The whole file. It asks for nothing outside itself."""
    style = f" &middot; {escape(sheet.recipe.style)}" if sheet.recipe.style else ""
    body = "".join(_section(section) for section in sections(sheet))
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(sheet.recipe.name)}</title><style>{STYLE}</style></head>\n<body><header><h1>{escape(sheet.recipe.name)}</h1>"
        f"<p>{escape(sheet.kettle.name)}{style}</p></header>\n<main>"
        f"{_cautions(cautions(sheet))}{body}{_notes(sheet.recipe.notes)}</main>\n"
        f"<footer>{escape(FOOT)}</footer></body></html>\n"
    )


def _section(section: Section) -> str:
    head = "".join(f"<th>{escape(cell)}</th>" for cell in section.head) if any(section.head) else ""
    rows = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in section.rows)
    head_row = f"<tr>{head}</tr>" if head else ""
    return f"<section><h2>{escape(section.title)}</h2><table>{head_row}{rows}</table></section>\n"


def _cautions(found: tuple[Caution, ...]) -> str:
    if not found:
        return ""
    items = "".join(
        f'<li class="stops">{escape(caution_words(each))}</li>'
        if each.stops
        else f"<li>{escape(caution_words(each))}</li>"
        for each in found
    )
    return f"<section><h2>Mind</h2><ul>{items}</ul></section>\n"


def _notes(notes: str) -> str:
    return f"<section><h2>Notes</h2><p>{escape(notes)}</p></section>\n" if notes else ""
