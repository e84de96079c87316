"""HTML and SVG out of elements: whatever is put into one is escaped, unless it is an element itself.

So a name that looks like markup stays text without anybody thinking of it, and the type says what is markup already.
"""

from __future__ import annotations

from markupsafe import Markup, escape

BEGINS = '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
FITS_A_SCREEN = '<meta name="viewport" content="width=device-width, initial-scale=1">'
NOTHING = Markup()
SVG = "http://www.w3.org/2000/svg"


def element(name: str, *inside: str, **attributes: str) -> Markup:
    """`<name attributes>inside</name>`. Of an attribute's name a last `_` falls away, and any other becomes `-`."""
    return Markup(f"<{name}{_written(attributes)}>{joined(*inside)}</{name}>")  # noqa: S704 - all within is escaped


def lone(name: str, **attributes: str) -> Markup:
    """`<name attributes/>`, as SVG has it."""
    return Markup(f"<{name}{_written(attributes)}/>")  # noqa: S704 - all within is escaped


def joined(*parts: str) -> Markup:
    """One after the other; those that are no markup are escaped."""
    return NOTHING.join(parts)


def styled(style: str) -> Markup:
    """A style sheet of ours, which stands in the file as it is."""
    return element("style", Markup(style))  # noqa: S704 - no text of anybody else's


def page(title: str, style: str, *inside: str) -> str:
    """A whole file that asks for nothing outside itself; `style` is ours."""
    head = element("title", title) + styled(style)
    return f"{BEGINS}{FITS_A_SCREEN}{head}</head>\n{element('body', *inside)}</html>\n"


def _written(attributes: dict[str, str]) -> str:
    return "".join(f' {name.rstrip("_").replace("_", "-")}="{escape(value)}"' for name, value in attributes.items())
