"""Evidence with its single findings by their own names, whichever group holds them."""

from __future__ import annotations

from typing import Any

from kettlebridge.core.evidence import ByBoard, Evidence, Moves, Stayed, Streams, Warmth

GROUPS: dict[str, Any] = {
    "stayed": Stayed,
    "moves": Moves,
    "warmth": Warmth,
    "streams": Streams,
    "by_board": ByBoard,
}
GROUP_OF = {finding: group for group, made in GROUPS.items() for finding in made._fields}


def findings(evidence: Evidence) -> dict[str, Any]:
    """Every single finding, by its own name."""
    whole = evidence._asdict()
    for group in GROUPS:
        whole |= whole.pop(group)._asdict()
    return whole


def evidence_with(evidence: Evidence, **changed: Any) -> Evidence:
    """`evidence` with each of `changed` where it belongs."""
    for finding, value in changed.items():
        group = GROUP_OF.get(finding)
        if group is None:
            evidence = evidence._replace(**{finding: value})
        else:
            evidence = evidence._replace(**{group: getattr(evidence, group)._replace(**{finding: value})})
    return evidence
