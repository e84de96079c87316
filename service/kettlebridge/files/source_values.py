"""Values of a foreign recipe: text cut to what a file takes, numbers, and what both imports say in the same words."""

from __future__ import annotations

from math import isfinite

from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.source_fields import Draft, Field, Verdict

LONGEST_LINE = 80
LONGEST_PARAGRAPH = 600
BREWHOUSE = "is a brewhouse efficiency there; taken as the share of the extract in the kettle before the boil"
NO_EFFICIENCY = "no efficiency is given: 75 % assumed"
NO_MASH = "grain but no mash is given: one rest of 60 min at 66 °C assumed"
NO_YEAST = "no yeast is given: an ale yeast of 75 % attenuation assumed"
NO_PITCH_C = "no temperature for the yeast is given: {:g} °C assumed"
NO_BOIL = "no boil is given: 60 min assumed"
ONLY_FIRST = "only the first is used"
NONE_OF_IT = "is none of it: left out"
HEATED = "is reached by heating here; its own water is part of the mash"
STEEPED_C = 85.0
STEEPED = f"steeps after the boil: a stand at {STEEPED_C:g} °C assumed"
PITCH_C = {"ale": 19.0, "lager": 10.0}
INFUSED = "how much is worked out for the kettle"
USUAL_ATTENUATION_PERCENT = 75.0
USUAL_EFFICIENCY_PERCENT = 75.0
USUAL_BOIL_MIN = 60.0
LEAST_REST_MIN = 1.0


def text_into(draft: Draft, key: KeyPath, source: Field, longest: int = LONGEST_LINE, doubt: str = "") -> None:
    """A text as one line (a paragraph keeps its lines), cut where it is too long, odd characters taken out."""
    given = str(source.value or "")
    lines = [" ".join(line.split()) for line in given.splitlines()]
    joined = " ".join(line for line in lines if line) if longest == LONGEST_LINE else "\n".join(lines).strip()
    clean = "".join(letter for letter in joined if letter.isprintable() or letter == "\n")
    if len(clean) > longest:
        doubt = f"cut to {longest} characters"
    elif clean != joined:
        doubt = "control characters taken out"
    draft.put(key, clean[:longest], source, doubt)


def number_of(draft: Draft, source: Field) -> float | None:
    """A finite number, or None and a mistake."""
    value = source.value
    if isinstance(value, bool) or value is None or source.children:
        draft.refuse(source, "is not a number")
        return None
    try:
        found = float(value)
    except ValueError:
        comma = "; decimals are written with a point" if "," in str(value) else ""
        draft.refuse(source, f'"{str(value)[:40]}" is not a number{comma}')
        return None
    if not isfinite(found):
        draft.refuse(source, f"{str(value)[:40]} is not a finite number")
        return None
    return found


def needed(draft: Draft, around: Field, *names: str) -> Field | None:
    """A field that the standard requires, or None and a mistake."""
    found = around.child(*names)
    if found is None:
        draft.mistakes.append(draft.missing(around, ".".join(names)))
    return found


def leave_out(draft: Draft, source: Field, why: str) -> None:
    """A whole record that is left out, which its author may not have meant."""
    draft.note(source, Verdict.DOUBTFUL, why)


def usual_mash(draft: Draft, around: Field) -> None:
    """One rest, where grain is given and no mash."""
    draft.assume(("mash",), {"rest": [{"name": "Rest", "at_c": 66.0, "for_min": 60.0}]}, around, NO_MASH)
