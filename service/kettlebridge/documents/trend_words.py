"""What changes in a kettle from batch to batch, in sentences: what is seen, what it may be, what to do."""

from __future__ import annotations

from kettlebridge.brewing.trend import Drift, Trend

DO: dict[Drift, str] = {
    Drift.SLOWER: "Scale on the element, one of several elements out, or weak mains: look at it, and descale it.",
    Drift.LATER: "The control probe may be dirty, or sit loosely in its pocket: clean it, and push it home.",
}


def trend_words(trend: Trend) -> str:
    """One sentence of what is seen, one of what to do."""
    if trend.drift is Drift.SLOWER:
        less = 100.0 * (1.0 - trend.now / trend.before)
        seen = f"In its last two batches the kettle warmed {less:.0f} % slower for its power than before."
    else:
        late = f"{trend.now:.0f} s, before {trend.before:.0f} s"
        seen = f"In its last two batches the control probe answered after {late}."
    return f"{seen} {DO[trend.drift]}"
