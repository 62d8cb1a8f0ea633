"""What a file from elsewhere may not do: unpack without end, name paths, link, or expand.

An XLSX or ODS file is a ZIP archive of XML. Before anything reads it, every part is unpacked
under a limit and looked at, and the archive is packed anew from just those bytes, so that the
reader sees exactly what was looked at.
"""

import io
import re
import zipfile
import zlib
from collections.abc import Mapping

from levelbook.errors import DocumentError
from levelbook.exchange.questions import refused

MOST_PARTS = 2_000
MOST_UNPACKED = 150_000_000
"""Most bytes of all parts together. Ours: 100,000 rows of 20 columns need about half."""
MOST_CELLS = 2_000_000
REMEDY = "copy the table into a new spreadsheet and save it as XLSX or CSV"
_ENTITY = re.compile(rb"<!\s*(?:DOCTYPE|ENTITY)", re.IGNORECASE)
_LINKED = (
    (re.compile(r"(?i)(^|/)externalLinks/"), "links to another workbook"),
    (re.compile(r"(?i)(^|/)connections\.xml$"), "a connection to another source"),
    (re.compile(r"(?i)(^|/)queryTables/"), "a query of another source"),
)
_ODS_LINK = re.compile(
    rb"<(?:table:(?:table-source|cell-range-source|database-source-\w+)|office:dde-source)\b",
    re.IGNORECASE,
)
_FORMULA = re.compile(
    rb"<(?:\w+:)?f[^<>]*>([^<]+)|table:formula=(?:\"([^\"]*)\"|'([^']*)')", re.IGNORECASE
)
"""Formulas of an XLSX or an ODS file."""
_ELSEWHERE = re.compile(
    rb"(?<![\w\]])\[\d+\]|'file:|'https?:"
    rb"|\b(?:WEBSERVICE|DDE|RTD|CALL|REGISTER(?:\.ID)?|IMPORT(?:DATA|FEED|HTML|RANGE|XML)|IMAGE|SQL"
    rb"\.REQUEST|STOCKHISTORY)\(|(?<![\w.])[A-Z][\w.]*\|'?[^'!<]{0,400}'?!",
    re.IGNORECASE,
)
"""Other workbooks, functions that fetch or call, and links to another program (DDE)."""
_BAR = re.compile(rb"[\w.]\|")
MOST_BARS = 10_000
"""Most bars after words in formulas, as each may begin a link to another program."""
PROGRAMS = re.compile(r"(?i)vbaProject|(^|/)(macrosheets|embeddings|activeX)/|^(Basic|Scripts)/")
"""Parts that are programs or other files: never run, and told of."""


def names_in(data: bytes, name: str) -> list[str]:
    """Return the names in a ZIP archive, nothing unpacked.

    Raises
    ------
    DocumentError
        If it is damaged, or its names are not those of parts within it.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            infos = archive.infolist()
    except (zipfile.BadZipFile, NotImplementedError, ValueError, OSError):
        raise refused("zip-damaged", name, "is damaged or cut off", REMEDY) from None
    _check_names(infos, name)
    return [info.filename for info in infos]


def unpacked(data: bytes, name: str) -> dict[str, bytes]:
    """Return the parts of a ZIP archive, unpacked no further than allowed.

    Raises
    ------
    DocumentError
        If it is damaged, encrypted, too large, names a part twice, or a path outside.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            infos = archive.infolist()
            _check_names(infos, name)
            return _read_all(archive, infos, name)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError, OSError):
        raise refused("zip-damaged", name, "is damaged or cut off", REMEDY) from None


def _check_names(infos: list[zipfile.ZipInfo], name: str) -> None:
    if len(infos) > MOST_PARTS:
        raise refused("zip-many", name, f"holds more than {MOST_PARTS:,} parts", REMEDY)
    seen = set()
    for info in infos:
        part = info.filename
        steps = part.replace("\\", "/").split("/")
        if part.startswith(("/", "\\")) or ".." in steps or ":" in part or "\\" in part:
            problem = f"names a place outside itself ({part[:60]!r})"
            raise refused("zip-path", name, problem, REMEDY)
        if part.casefold() in seen:
            raise refused("zip-twice", name, f"holds two parts named {part[:60]!r}", REMEDY)
        seen.add(part.casefold())
        if info.flag_bits & 1:
            raise refused("zip-encrypted", name, "is encrypted", "save it without a password")


def _read_all(
    archive: zipfile.ZipFile, infos: list[zipfile.ZipInfo], name: str
) -> dict[str, bytes]:
    left, parts = MOST_UNPACKED, {}
    if sum(info.file_size for info in infos) > left:  # no part unpacks beyond what it says
        raise _too_much(name)
    for info in infos:
        with archive.open(info) as file:
            content = file.read(left + 1)
        left -= len(content)
        if left < 0:
            raise _too_much(name)
        parts[info.filename] = content
    return parts


def _too_much(name: str) -> DocumentError:
    problem = f"unpacks to more than {MOST_UNPACKED // 10**6} MB"
    return refused("zip-bomb", name, problem, REMEDY)


def checked_spreadsheet(data: bytes, name: str) -> tuple[dict[str, bytes], bytes]:
    """Return the parts of a spreadsheet, and the archive packed anew from them.

    Raises
    ------
    DocumentError
        If it links to anything outside, or declares entities.
    """
    parts, bars = unpacked(data, name), 0
    for part, content in parts.items():
        for pattern, what in _LINKED:
            if pattern.search(part):
                raise refused("external", name, f"holds {what} ({part[:60]})", REMEDY)
        if part.endswith((".xml", ".rels", ".vml")) or content[:200].lstrip().startswith(b"<"):
            bars += _check_xml(part, content, name)
        if bars > MOST_BARS:
            raise refused("external", name, "may take cells from elsewhere", REMEDY)
    return parts, _packed(parts)


def _check_xml(part: str, content: bytes, name: str) -> int:
    """Refuse a part that takes cells from elsewhere; return the bars after words in formulas."""
    check_markup(content, f"{name}: {part}")
    bars, linked = 0, _ODS_LINK.search(content) is not None
    for found in _FORMULA.finditer(content):
        formula = found[found.lastindex or 0]
        bars += len(_BAR.findall(formula))
        linked = linked or (bars <= MOST_BARS and _ELSEWHERE.search(formula) is not None)
    if linked:
        raise refused("external", f"{name}: {part}", "takes cells from elsewhere", REMEDY)
    return bars


def check_markup(content: bytes, place: str) -> None:
    """Refuse XML that declares a document type or entities, or hides what it says.

    Raises
    ------
    DocumentError
        If it does.
    """
    if b"\0" in content:
        raise refused("xml", place, "is XML in an unusual encoding", REMEDY)
    if _ENTITY.search(content):
        raise refused("xml", place, "declares a document type or entities", REMEDY)


def _packed(parts: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for part, content in parts.items():
            if not part.endswith("/"):
                archive.writestr(part, content)
    return out.getvalue()
