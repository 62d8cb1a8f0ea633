"""Large XML gone through piece by piece: each piece is let go when the next one comes."""

import io
from collections.abc import Collection, Iterator, Sequence
from xml.etree.ElementTree import Element

from defusedxml.ElementTree import iterparse  # type: ignore[import-untyped]


def local(name: str) -> str:
    """Return the name of an element or attribute without its namespace."""
    return name.rpartition("}")[2]


def attribute(element: Element, name: str) -> str | None:
    """Return an attribute by its name in whatever namespace, ``None`` where it is not there."""
    return next((value for key, value in element.items() if local(key) == name), None)


def pieces(content: bytes, wanted: Collection[str]) -> Iterator[tuple[Element, Sequence[Element]]]:
    """Yield each whole element of the wanted names, and what it lies in from the outermost.

    An element within another that is wanted is no piece of its own.

    Raises
    ------
    ParseError, DefusedXmlException
        If it is no XML, or declares what it may not.
    """
    around: list[Element] = []
    within = 0
    for event, element in iterparse(io.BytesIO(content), events=("start", "end")):
        asked = local(element.tag) in wanted
        if event == "start":
            around.append(element)
            within += asked
            continue
        around.pop()
        within -= asked
        if within == 0:
            if asked:
                yield element, around
            if around:
                around[-1].remove(element)
