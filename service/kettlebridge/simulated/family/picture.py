"""The comparison as one SVG: a panel for each metric, a bar from median to 95th percentile for each regulator."""

from __future__ import annotations

from html import escape

from kettlebridge.simulated.family.rank import Summary

PANELS: tuple[str, ...] = (
    "strike_overshoot_bulk_c",
    "strike_settle_over_bound",
    "strike_iae_c_min",
    "rest_hold_rms_contactor_c",
    "rest_bed_rms_c",
    "bed_there_s",
)
COLUMNS = 2
PANEL_W, ROW_H, HEAD_H, LABEL_W, GAP = 420, 20, 34, 130, 24
BAR_W = PANEL_W - LABEL_W - 70
INK, SOFT, BAR = "#1f2933", "#7b8794", "#2f6f8f"


def picture(results: dict[str, dict[str, Summary]], words: dict[str, str], names: dict[str, str], title: str) -> str:
    """SVG text. `words` says what a metric is, `names` what a regulator is called."""
    panel_h = HEAD_H + ROW_H * len(results) + GAP
    rows = (len(PANELS) + COLUMNS - 1) // COLUMNS
    width, height = COLUMNS * (PANEL_W + GAP) + GAP, rows * panel_h + HEAD_H + GAP
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img"'
            f' font-family="sans-serif" font-size="12" fill="{INK}">'
        ),
        f"<title>{escape(title)}</title>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        f'<text x="{GAP}" y="24" font-size="14" font-weight="bold">{escape(title)}</text>',
    ]
    for place, metric in enumerate(PANELS):
        x = GAP + (place % COLUMNS) * (PANEL_W + GAP)
        y = HEAD_H + GAP + (place // COLUMNS) * panel_h
        column = {name: rows_of[metric] for name, rows_of in results.items()}
        parts += _panel(x, y, words[metric], column, names)
    return "\n".join([*parts, "</svg>", ""])


def _panel(x: float, y: float, head: str, column: dict[str, Summary], names: dict[str, str]) -> list[str]:
    most = max((one.p95 for one in column.values() if one.p95 is not None), default=1.0) or 1.0
    parts = [f'<text x="{x}" y="{y}" font-weight="bold">{escape(head)}</text>']
    for place, (name, one) in enumerate(column.items()):
        row_y = y + HEAD_H / 2 + place * ROW_H
        parts.append(f'<text x="{x}" y="{row_y + 9}">{escape(names[name])}</text>')
        parts += _bar(x + LABEL_W, row_y, one, BAR_W / most)
    return parts


def _bar(x: float, y: float, one: Summary, scale: float) -> list[str]:
    """A dot at the median, a line to the 95th percentile, and the figures; failures in words."""
    failed = f", {one.failed} failed" if one.failed else ""
    if one.median is None or one.p95 is None:
        return [f'<text x="{x}" y="{y + 9}" fill="{SOFT}">never</text>']
    median_x, p95_x = x + one.median * scale, x + one.p95 * scale
    return [
        f'<line x1="{median_x:.1f}" y1="{y + 5}" x2="{p95_x:.1f}" y2="{y + 5}" stroke="{BAR}" stroke-width="3"/>',
        f'<circle cx="{median_x:.1f}" cy="{y + 5}" r="4" fill="{BAR}"/>',
        (
            f'<text x="{p95_x + 6:.1f}" y="{y + 9}" font-size="10" fill="{SOFT}">{one.median:.3g} / {one.p95:.3g}'
            f"{failed}</text>"
        ),
    ]
