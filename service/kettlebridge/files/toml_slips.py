"""What is meant by a line that is no TOML: the usual slips of who writes it by hand, and what to write instead."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

Advice = Callable[[re.Match[str]], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """One kind: where it shows, in the line or else in the parser's words, and what mends it."""

    found: re.Pattern[str]
    advice: Advice
    in_words: bool = False


def _says(words: str) -> Advice:
    return lambda _found: words


SLIPS: tuple[Slip, ...] = (
    Slip(found=re.compile(r"overwrite a value"), in_words=True, advice=_says("this key stands above already")),
    Slip(
        found=re.compile(r"declare \('(.+?)',?\) twice"),
        in_words=True,
        advice=lambda found: f"[{found[1].replace(chr(39) + ', ' + chr(39), '.')}] stands above already: join the two",
    ),
    Slip(found=re.compile(r"Unclosed array"), in_words=True, advice=_says("above this line a ] is missing")),
    Slip(found=re.compile(r"^\s*(//|;|--|%)"), advice=_says("a remark begins with #")),
    Slip(found=re.compile(r"^\s*\[[^\]]*$"), advice=_says("a table's name ends with ]")),
    Slip(found=re.compile(r"[“”„‟‘’‚«»]"), advice=_says('quotation marks are the straight ones: "')),
    Slip(
        found=re.compile(r"=\s*(-?\d+),(\d+)\s*(?:#.*)?$"),
        advice=lambda found: f"a number has a point and no comma: {found[1]}.{found[2]}",
    ),
    Slip(found=re.compile(r"=\s*(?:#.*)?$"), advice=_says("what it is to be is missing after the =")),
    Slip(
        found=re.compile(r"=\s*(true|false|yes|no|on|off)\s*(?:#.*)?$", re.IGNORECASE),
        advice=_says("it is true or false, in small letters"),
    ),
    Slip(
        found=re.compile(r"=\s*(-?\d+(?:\.\d+)?)\s*[^\W\d_%]+"),
        advice=lambda found: f"the number alone: {found[1]}; its unit is in the key's name",
    ),
    Slip(found=re.compile(r"=\s*-?(?:\.\d|\d+\.(?!\d))"), advice=_says("a point has a digit on both sides: 0.5")),
    Slip(found=re.compile(r"=\s*-?0\d"), advice=_says("a number does not begin with 0")),
    Slip(found=re.compile(r"""=\s*(["'])(?:(?!\1).)*$"""), advice=_says("the quotation mark at its end is missing")),
    Slip(
        found=re.compile(r'=\s*"[^"]*\\'),
        advice=_says("a \\ begins a sign of its own there: between ' and ' it is only itself"),
    ),
    Slip(
        found=re.compile(r"=\s*([^\W\d_][\w .-]*?)\s*(?:#.*)?$"),
        advice=lambda found: f'text stands in quotation marks: "{found[1]}"',
    ),
    Slip(found=re.compile(r"^\s*[\w-]+\s*:"), advice=_says("after a key comes =, not :")),
    Slip(found=re.compile(r"^\s*\w+(?: +\w+)+\s*="), advice=_says("a key is one word, as in heater_w")),
    Slip(found=re.compile(r"^\s*[\w-]*[^\x00-\x7f]"), advice=_says("a key is made of a-z, 0-9, _ and -")),
    Slip(found=re.compile(r"^\s*[\w-]+\s+[^=\s]"), advice=_says("after a key comes =")),
)
"""The first that is found counts."""


def advice_on(line: str, words: str) -> str | None:
    """What to write instead, by the line and by what the parser said of it; None where it is no usual slip."""
    for slip in SLIPS:
        found = slip.found.search(words if slip.in_words else line)
        if found is not None:
            return slip.advice(found)
    return None
