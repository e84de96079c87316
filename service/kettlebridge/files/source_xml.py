"""XML from anywhere, read without trusting it: no document type, no entities, nothing fetched, no bombs."""

from __future__ import annotations

from collections import Counter
from typing import Any
from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from kettlebridge.files.document import refused
from kettlebridge.files.source_fields import MAX_DEPTH, MAX_FIELDS, Field

SAFE_REASON = "declares a document type or entities, which a recipe never needs: refused"


class _TooMuchError(ValueError):
    pass


class _Builder(TreeBuilder):
    """Builds elements that know their line, and gives up when there are too many or they nest too deeply."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: dict[Element, int] = {}
        self.expat: Any = None
        self._depth = 0

    def start(self, tag: Any, attrs: Any, /) -> Element:
        """Begins an element."""
        self._depth += 1
        if self._depth > MAX_DEPTH or len(self.lines) >= MAX_FIELDS:
            raise _TooMuchError(f"more than {MAX_FIELDS} elements, or nested more than {MAX_DEPTH} deep")
        element = super().start(tag, attrs)
        self.lines[element] = self.expat.CurrentLineNumber
        return element

    def end(self, tag: str, /) -> Element:
        """Ends it."""
        self._depth -= 1
        return super().end(tag)


def xml_fields(path: str, content: bytes) -> Field:
    """The root element as a field; tags in capitals. Raises FileError for everything that is not harmless XML."""
    builder = _Builder()
    parser = DefusedXMLParser(target=builder, forbid_dtd=True)
    builder.expat = parser.parser
    try:
        parser.feed(content)
        root = parser.close()
    except DefusedXmlException as error:
        raise refused(path, builder.expat.CurrentLineNumber, SAFE_REASON) from error
    except ParseError as error:
        raise refused(path, error.position[0], f"is not XML: {error}") from error
    except _TooMuchError as error:
        raise refused(path, builder.expat.CurrentLineNumber, f"is no recipe: {error}") from error
    except (LookupError, ValueError) as error:  # an encoding that nobody knows
        raise refused(path, 1, f"is not XML that can be read: {error}") from error
    return _field(root, str(root.tag).upper(), builder.lines)


def _field(element: Element, place: str, lines: dict[Element, int]) -> Field:
    tags = [str(child.tag).upper() for child in element]
    several = {tag for tag, count in Counter(tags).items() if count > 1}
    seen: Counter[str] = Counter()
    children = [
        Field(f"@{name}", f"{place}/@{name}", lines[element], value) for name, value in sorted(element.attrib.items())
    ]
    text = (element.text or "").strip()
    if text and tags:
        children.append(Field("text", f"{place}/text", lines[element], text))
    for tag, child in zip(tags, element, strict=True):
        seen[tag] += 1
        children.append(_field(child, f"{place}/{tag}" + (f"[{seen[tag]}]" if tag in several else ""), lines))
        if (child.tail or "").strip():
            children.append(Field("text", f"{place}/text", lines[child], (child.tail or "").strip()))
    if children and not tags and text:
        children.append(Field("text", f"{place}/text", lines[element], text))
    return Field(str(element.tag).upper(), place, lines[element], None if children else text, tuple(children))
