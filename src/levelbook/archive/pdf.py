"""What a report PDF carries: its attachments, read without trusting the file.

Only attachments of the document itself count, as the report makes them; each is unpacked to
at most the size that a document may have.
"""

import io
import zlib
from collections.abc import Iterator, Mapping
from itertools import chain, count, islice

import pikepdf

from levelbook.book.limits import BYTES
from levelbook.errors import DocumentError, Fault

MOST_ATTACHMENTS = 1_000
#: Most memory for unpacking what the PDF needs to be read at all; a report's own is far less.
UNPACKED = 100_000_000
REMEDY = "take the report as it was handed over"


def attachments(data: bytes, wanted: tuple[str, ...]) -> Mapping[str, bytes]:
    """Return the attachments of a PDF that have one of the names ``wanted``.

    Raises
    ------
    DocumentError
        If the PDF is damaged, cut off, encrypted, or carries a name twice or too much.
    """
    pikepdf.settings.set_qpdf_limits(flate_max_memory=UNPACKED)
    try:
        with pikepdf.open(io.BytesIO(data), attempt_recovery=False) as pdf:
            if pdf.is_encrypted:
                raise _encrypted()
            return _wanted(pdf, wanted)
    except pikepdf.PasswordError:
        raise _encrypted() from None
    except (pikepdf.PdfError, ValueError, TypeError):
        raise _one(Fault("pdf-damaged", "PDF", "this PDF is damaged or cut off", REMEDY)) from None


def _encrypted() -> DocumentError:
    return _one(
        Fault("pdf-encrypted", "PDF", "this PDF is encrypted", "save it without a password")
    )


def _one(fault: Fault) -> DocumentError:
    return DocumentError((fault,))


def _wanted(pdf: pikepdf.Pdf, wanted: tuple[str, ...]) -> dict[str, bytes]:
    """Return the contents of the attachments of these names, each once."""
    found: dict[str, dict[tuple[int, int], pikepdf.Object]] = {}
    for spec in _specifications(pdf):
        name = _name(spec)
        if name in wanted:
            stream = _stream(name, spec)
            found.setdefault(name, {})[stream.objgen] = stream
    for name, streams in found.items():
        if len(streams) > 1:
            problem = "the PDF carries two attachments of this name"
            raise _one(Fault("pdf-twice", name, problem, REMEDY))
    return {name: _content(name, *streams.values()) for name, streams in found.items()}


def _specifications(pdf: pikepdf.Pdf) -> Iterator[pikepdf.Object]:
    """Yield the file specifications of the document: its names, then its associated files."""
    for number, spec in enumerate(chain(_named(pdf), _associated(pdf))):
        if number >= MOST_ATTACHMENTS:
            raise _one(
                Fault(
                    "pdf-many",
                    "PDF",
                    f"this PDF carries more than {MOST_ATTACHMENTS} attachments",
                    REMEDY,
                )
            )
        if isinstance(spec, pikepdf.Dictionary):
            yield spec


def _associated(pdf: pikepdf.Pdf) -> Iterator[pikepdf.Object]:
    """Yield the files that the document as a whole is associated with."""
    files = pdf.Root.get("/AF")
    if isinstance(files, pikepdf.Dictionary):
        yield files
    yield from _items(pdf.Root, "/AF")


def _named(pdf: pikepdf.Pdf) -> Iterator[pikepdf.Object]:
    """Yield the values of the tree of attachments, however its keys are written."""
    names = pdf.Root.get("/Names")
    nodes = [names.get("/EmbeddedFiles")] if isinstance(names, pikepdf.Dictionary) else []
    for number in count():
        if not nodes:
            return
        if number >= MOST_ATTACHMENTS:
            raise _one(Fault("pdf-many", "PDF", "its list of attachments has no end", REMEDY))
        node = nodes.pop()
        if isinstance(node, pikepdf.Dictionary):
            yield from islice(_items(node, "/Names"), 1, None, 2)
            nodes.extend(islice(_items(node, "/Kids"), MOST_ATTACHMENTS))


def _items(node: pikepdf.Object, key: str) -> Iterator[pikepdf.Object]:
    """Yield the entries of an array in a dictionary, none where there is no array."""
    held = node.get(key)
    if isinstance(held, pikepdf.Array):
        yield from held


def _name(spec: pikepdf.Object) -> str:
    name = spec.get("/UF", spec.get("/F"))
    return str(name) if isinstance(name, pikepdf.String) else ""


def _stream(name: str, spec: pikepdf.Object) -> pikepdf.Object:
    """Return the stream that holds the file of a specification."""
    kept = spec.get("/EF")
    stream = kept.get("/F", kept.get("/UF")) if isinstance(kept, pikepdf.Dictionary) else None
    if not isinstance(stream, pikepdf.Stream):
        raise _one(Fault("pdf-damaged", "PDF", f"the attachment {name} is not in the file", REMEDY))
    return stream


def _content(name: str, stream: pikepdf.Object) -> bytes:
    """Return the content of one attachment, unpacked no further than a document may be."""
    filters = stream.get("/Filter")
    used = list(filters) if isinstance(filters, pikepdf.Array) else [filters]
    raw = stream.read_raw_bytes()
    if not used or used == [None]:
        content = raw
    elif used == [pikepdf.Name.FlateDecode] and "/DecodeParms" not in stream:
        content = _inflated(name, raw)
    else:
        raise _one(
            Fault(
                "pdf-damaged", "PDF", f"the attachment {name} is packed in an unusual way", REMEDY
            )
        )
    if len(content) > BYTES:
        problem = f"is larger than {BYTES // 1_000_000} MB"
        raise _one(Fault("too-large", name, problem, REMEDY))
    return content


def _inflated(name: str, raw: bytes) -> bytes:
    unpacker = zlib.decompressobj()
    try:
        content = unpacker.decompress(raw, BYTES + 1)
    except zlib.error:
        content = None
    if content is None or (len(content) <= BYTES and not unpacker.eof):
        raise _one(Fault("pdf-damaged", "PDF", f"the attachment {name} is damaged", REMEDY))
    return content
