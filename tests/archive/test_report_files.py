"""Reports and bundles as books: what lies inside is read, and hostile files are refused."""

import io
import json
import zipfile
import zlib
from collections.abc import Callable
from typing import Any

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, Pdf, Stream
from sealing import KEY, TIME, same, small_book, verdict_on

from levelbook.archive import opening
from levelbook.archive.holders import LARGEST, read_bounded
from levelbook.archive.opening import BOOK, SEAL, open_bytes
from levelbook.archive.sealed import seal_book
from levelbook.archive.verify import verify
from levelbook.book import read_book, write_book
from levelbook.book.limits import BYTES
from levelbook.errors import DocumentError, UsageError
from levelbook.findings import assess
from levelbook.report import build

SMALL = write_book(small_book()).encode()
SEALED = json.dumps(seal_book(small_book(), KEY, TIME).as_json()).encode()


@pytest.fixture(scope="module")
def report(house_a: bytes) -> bytes:
    """Return the PDF of the sample house, sealed."""
    book = read_book(house_a)
    seal = seal_book(book, KEY, TIME).as_json()
    return build(assess(book), formats=("pdf",), seal=seal).parts[".pdf"]


def saved(pdf: Pdf, **options: Any) -> bytes:
    """Return a PDF as bytes."""
    out = io.BytesIO()
    pdf.save(out, **options)
    return out.getvalue()


def specification(pdf: Pdf, name: str, content: bytes, **stream: Any) -> pikepdf.Object:
    """Return a file specification with its stream."""
    held = pdf.make_indirect(Stream(pdf, content, Type=Name.EmbeddedFile, **stream))
    spec = Dictionary(Type=Name.Filespec, F=name, UF=name, EF=Dictionary(F=held, UF=held))
    return pdf.make_indirect(spec)


def carrier(*files: tuple[str, bytes], **stream: Any) -> Pdf:
    """Return a PDF of one empty page that carries files."""
    pdf = pikepdf.new()
    pdf.add_blank_page()
    listed = Array()
    for number, (name, content) in enumerate(files):
        listed.extend([f"{number:04d}", specification(pdf, name, content, **stream)])
    pdf.Root.Names = Dictionary(EmbeddedFiles=Dictionary(Names=listed))
    return pdf


def bundled(*files: tuple[str, bytes]) -> bytes:
    """Return a ZIP archive of files."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files:
            archive.writestr(name, content)
    return out.getvalue()


def code_of(data: bytes) -> str:
    """Return the code of the first fault with which a file is refused."""
    with pytest.raises(DocumentError) as told:
        open_bytes(data)
    assert all(fault.remedy for fault in told.value.faults)
    return told.value.faults[0].code


def test_a_sealed_report_is_proved(report: bytes, house_a: bytes) -> None:
    """The report carries book and seal; the record is proved, and the pages are not."""
    opened, verdict = verdict_on(report)
    assert opened.source == "report"
    assert verdict.proved
    assert same(opened.book, read_book(house_a))
    assert any("pages" in told for told in verdict.does_not_prove)
    with pikepdf.open(io.BytesIO(report)) as pdf:
        assert set(pdf.attachments) == {BOOK, SEAL, "assessment.json"}
        assert opened.raw == pdf.attachments[BOOK].get_file().read_bytes()


def test_the_report_tells_of_its_seal(house_a: bytes) -> None:
    """The page on the record says when and with which key; a web page has the seal too."""
    book = read_book(house_a)
    seal = seal_book(book, KEY, TIME)
    page = build(assess(book), formats=("html",), seal=seal.as_json()).parts[".html"].decode()
    for told in ("2026-05-14 18:00:00 UTC", seal.fingerprint, seal.key[:4], 'download="seal.json"'):
        assert told in page
    plain = build(assess(book), formats=("html",)).parts[".html"].decode()
    assert "seal.json" not in plain


def test_a_seal_of_another_book_is_refused(house_a: bytes) -> None:
    """A report cannot be given the seal of another record."""
    seal = seal_book(small_book(), KEY, TIME).as_json()
    with pytest.raises(UsageError, match="another book"):
        build(assess(read_book(house_a)), formats=("json",), seal=seal)


def changed_inside(report: bytes, name: str, change: Callable[[bytes], bytes]) -> bytes:
    """Return a report with one attachment changed."""
    with pikepdf.open(io.BytesIO(report)) as pdf:
        stream = pdf.attachments[name].obj.EF.F
        stream.write(change(stream.read_bytes()))
        return saved(pdf)


def test_saved_again_it_still_holds(report: bytes) -> None:
    """Another program's copy of the report, streams packed anew, is proved as well."""
    with pikepdf.open(io.BytesIO(report)) as pdf:
        again = saved(
            pdf, object_stream_mode=pikepdf.ObjectStreamMode.generate, recompress_flate=True
        )
    assert again != report
    assert verdict_on(again)[1].proved


@pytest.mark.parametrize("share", [0.1, 0.35, 0.6, 0.85])
@pytest.mark.parametrize("name", [BOOK, SEAL])
def test_changed_inside_the_report(report: bytes, name: str, share: float) -> None:
    """A letter or digit changed in the record or the seal inside a report is caught."""

    def change(content: bytes) -> bytes:
        place = next(
            i for i in range(int(len(content) * share), len(content)) if chr(content[i]).isalnum()
        )
        return content[:place] + bytes([content[place] ^ 1]) + content[place + 1 :]

    data = changed_inside(report, name, change)
    with pytest.raises(DocumentError):
        open_bytes(data)


@pytest.mark.parametrize("new", [0x20, 0x30, 0x39, 0x22, 0x61, 0xFF])
@pytest.mark.parametrize("name", [BOOK, SEAL])
def test_every_byte_of_what_a_report_carries(name: str, new: int) -> None:
    """Each byte of the unpacked record and of its seal is caught or changes nothing."""
    files = {BOOK: SMALL, SEAL: SEALED}
    raw, caught = files[name], 0
    for place, byte in enumerate(raw):
        if byte == new:
            continue
        changed = files | {name: raw[:place] + bytes([new]) + raw[place + 1 :]}
        try:
            opened = opening.carried(changed, "report")
        except DocumentError:
            caught += 1
            continue
        if not verify(opened).proved:
            caught += 1
            continue
        assert chr(byte).isspace()
        assert same(opened.book, small_book())
    assert caught >= sum(byte != new and not chr(byte).isspace() for byte in raw) > 200


@pytest.mark.parametrize("share", [0.0005, 0.1, 0.5, 0.9, 0.999])
def test_a_cut_report_is_told(report: bytes, share: float) -> None:
    """A report that was cut off anywhere is damaged, not empty and not something else."""
    assert code_of(report[: int(len(report) * share)]) == "pdf-damaged"


def test_a_report_without_a_book_is_told() -> None:
    """A PDF without attachment, printed anew for example, says what to ask for."""
    assert code_of(saved(carrier())) == "no-book"
    assert code_of(saved(carrier(("other.json", b"{}")))) == "no-book"
    plain = pikepdf.new()
    plain.add_blank_page()
    assert code_of(saved(plain)) == "no-book"


def test_an_unsealed_report_is_a_book() -> None:
    """A report without a seal opens, and proves nothing."""
    opened, verdict = verdict_on(saved(carrier((BOOK, SMALL))))
    assert same(opened.book, small_book())
    assert verdict.why == ("not sealed",)


@pytest.mark.parametrize("password", ["", "word"])
def test_an_encrypted_report_is_told(password: str) -> None:
    """An encrypted PDF is refused as such, whether it asks for a password or not."""
    lock = pikepdf.Encryption(owner="owner", user=password)
    assert code_of(saved(carrier((BOOK, SMALL)), encryption=lock)) == "pdf-encrypted"


@pytest.mark.parametrize("name", [BOOK, SEAL])
def test_two_of_a_name_are_told(name: str) -> None:
    """A second attachment of the same name could be shown for the first: neither is taken."""
    twice = carrier((BOOK, SMALL), (SEAL, SEALED), (name, b"{}"))
    assert code_of(saved(twice)) == "pdf-twice"


def test_a_second_one_beside_the_names_is_told() -> None:
    """The list of associated files cannot hide another record either."""
    pdf = carrier((BOOK, SMALL))
    pdf.Root.AF = Array([specification(pdf, BOOK, b"{}")])
    assert code_of(saved(pdf)) == "pdf-twice"


def test_one_file_under_two_lists_is_one() -> None:
    """The same attachment among names and associated files, as PDF/A-3 asks, is one."""
    pdf = carrier((BOOK, SMALL))
    pdf.Root.AF = Array([pdf.Root.Names.EmbeddedFiles.Names[1]])
    assert same(open_bytes(saved(pdf)).book, small_book())


def test_names_in_a_tree_are_found() -> None:
    """Attachments below branches of the name tree count as well."""
    pdf = carrier((BOOK, SMALL))
    leaf = pdf.make_indirect(Dictionary(Names=pdf.Root.Names.EmbeddedFiles.Names))
    pdf.Root.Names.EmbeddedFiles = Dictionary(Kids=Array([Dictionary(Kids=Array([leaf]))]))
    assert same(open_bytes(saved(pdf)).book, small_book())


def test_a_tree_that_bites_its_tail_is_told() -> None:
    """A name tree that contains itself ends in an error."""
    pdf = carrier((BOOK, SMALL))
    branch = pdf.make_indirect(Dictionary())
    branch.Kids = Array([branch])
    pdf.Root.Names.EmbeddedFiles = branch
    assert code_of(saved(pdf)) == "pdf-many"


def test_a_wide_tree_is_told() -> None:
    """A tree whose branches all lead to the same branch does not take for ever."""
    pdf = carrier()
    branch = pdf.make_indirect(Dictionary(Names=Array()))
    for _ in range(15):
        branch = pdf.make_indirect(Dictionary(Kids=Array([branch] * 10)))
    pdf.Root.Names.EmbeddedFiles = branch
    assert code_of(saved(pdf)) == "pdf-many"


def test_too_many_attachments_are_told() -> None:
    """More attachments than any report has are refused."""
    many = carrier(*((f"{i}.txt", b"") for i in range(1001)))
    assert code_of(saved(many)) == "pdf-many"


def test_an_attachment_bomb_is_told() -> None:
    """An attachment that unpacks to far more than a document may have is not unpacked."""
    bomb = zlib.compress(bytes(300_000_000), 9)
    pdf = carrier((BOOK, bomb), Filter=Name.FlateDecode)
    assert code_of(saved(pdf, compress_streams=False)) == "too-large"


def test_a_bomb_in_the_file_itself_is_told() -> None:
    """An object stream that unpacks to hundreds of megabytes does not fill the memory."""
    with carrier((BOOK, SMALL)) as pdf:
        data = saved(pdf, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    start = data.index(b"/ObjStm")
    begin = data.index(b"stream\n", start) + 7
    end = data.index(b"\nendstream", begin)
    bomb = zlib.compress(b"1 0 " + b" " * 300_000_000, 9)
    assert code_of(data[:begin] + bomb + data[end:]) == "pdf-damaged"


@pytest.mark.parametrize(
    "stream",
    [
        {"Filter": Name.FlateDecode},
        {"Filter": Name.LZWDecode},
        {"Filter": Array([Name.FlateDecode, Name.FlateDecode])},
        {"Filter": Name.FlateDecode, "DecodeParms": Dictionary(Predictor=12)},
    ],
)
def test_oddly_packed_attachments_are_told(stream: dict[str, Any]) -> None:
    """An attachment that is not packed as it says, or in an unusual way, is refused."""
    pdf = carrier((BOOK, SMALL), **stream)
    assert code_of(saved(pdf, compress_streams=False)) == "pdf-damaged"


def test_an_attachment_without_a_file_is_told() -> None:
    """A specification that names a file but holds none is refused."""
    pdf = carrier((BOOK, SMALL))
    del pdf.Root.Names.EmbeddedFiles.Names[1].EF
    assert code_of(saved(pdf)) == "pdf-damaged"


@pytest.mark.parametrize(
    "content", [b"%PDF-1.7\n", b"%PDF-1.7\n" + b"\0" * 500, b"junk %PDF-2.0 %%EOF"]
)
def test_what_only_begins_like_a_report_is_told(content: bytes) -> None:
    """A few first bytes make no report."""
    assert code_of(content) == "pdf-damaged"


def test_a_bundle_is_proved() -> None:
    """Record and seal are found in whatever folder of the archive."""
    opened, verdict = verdict_on(bundled(("h/level-book.json", SMALL), ("h/seal.json", SEALED)))
    assert (opened.source, verdict.proved) == ("bundle", True)
    assert code_of(bundled(("readme.txt", b""))) == "no-book"


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (bundled((BOOK, SMALL), ("more/" + BOOK, b"{}")), "zip-twice"),
        (bundled((BOOK, SMALL))[:-30], "zip-damaged"),
        (b"PK\x03\x04" + bytes(50), "zip-damaged"),
        (bundled((BOOK, bytes(BYTES + 1))), "too-large"),
        (bundled((BOOK, b"x" * 50)), "not-json"),
    ],
    ids=["twice", "cut", "junk", "bomb", "no book"],
)
def test_bad_bundles_are_told(data: bytes, code: str) -> None:
    """Two records, a damaged archive and a bomb each have their error."""
    assert code_of(data) == code


def test_a_bundle_of_many_files_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """More files than any bundle has are refused."""
    monkeypatch.setattr("levelbook.archive.bundle.MOST_MEMBERS", 3)
    assert code_of(bundled(*((f"{i}", b"") for i in range(4)))) == "zip-many"


def test_an_encrypted_member_is_told() -> None:
    """An encrypted file of a bundle is refused as such."""
    data = bytearray(bundled((BOOK, SMALL)))
    for mark, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.index(mark) + place] |= 1
    assert code_of(bytes(data)) == "zip-encrypted"


def test_a_changed_member_is_told() -> None:
    """A bundle whose packed bytes were changed is damaged."""
    data = bytearray(bundled((BOOK, SMALL)))
    data[60] ^= 0xFF
    assert code_of(bytes(data)) == "zip-damaged"


def test_no_more_is_read_than_a_file_may_have() -> None:
    """Of a text one byte more than allowed is read, of a report as much as reports may have."""
    asked: list[int] = []

    def read(start: bytes) -> Callable[[int], bytes]:
        def more(size: int) -> bytes:
            asked.append(size)
            return start.ljust(BYTES + 1) if len(asked) == 1 else b""

        return more

    read_bounded(read(b"{"))
    assert asked == [BYTES + 1]
    asked.clear()
    read_bounded(read(b"%PDF-1.7"))
    assert asked == [BYTES + 1, LARGEST - BYTES]


def test_a_file_beyond_all_limits_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A report larger than reports may be is refused by its size."""
    monkeypatch.setattr(opening, "LARGEST", 100)
    assert code_of(b"%PDF-1.7".ljust(101)) == "too-large"
