"""A brew sheet as one self-contained HTML file that prints on one page of A4."""

from __future__ import annotations

from markupsafe import Markup

from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.cautions import Caution, cautions
from kettlebridge.documents.caution_words import caution_words
from kettlebridge.documents.markup import NOTHING, element, joined, page
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
FOOT = (
    "Figures are estimates: measure, write it down, and correct the kettle file. Mash and wort burn within seconds. "
    "Lift nothing over people; a full kettle is never moved."
)


def sheet_page(sheet: Sheet) -> str:
    """The whole file. It asks for nothing outside itself."""
    recipe = sheet.recipe
    style = joined(Markup(" &middot; "), recipe.style) if recipe.style else ""
    header = element("header", element("h1", recipe.name), element("p", sheet.kettle.name, style))
    told = joined(*(_section(section) for section in sections(sheet)))
    main = element("main", _cautions(cautions(sheet)), told, _notes(recipe.notes))
    return page(recipe.name, STYLE, header, "\n", main, "\n", element("footer", FOOT))


def _section(section: Section) -> Markup:
    head = element("tr", *(element("th", cell) for cell in section.head)) if any(section.head) else NOTHING
    rows = [element("tr", *(element("td", cell) for cell in row)) for row in section.rows]
    return _titled(section.title, element("table", head, *rows))


def _titled(title: str, inside: Markup) -> Markup:
    return joined(element("section", element("h2", title), inside), "\n")


def _cautions(found: tuple[Caution, ...]) -> Markup:
    if not found:
        return NOTHING
    items = [
        element("li", caution_words(each), class_="stops") if each.stops else element("li", caution_words(each))
        for each in found
    ]
    return _titled("Mind", element("ul", *items))


def _notes(notes: str) -> Markup:
    return _titled("Notes", element("p", notes)) if notes else NOTHING
