"""Seals: what is signed, what is refused, and the signature against the published vectors."""

from dataclasses import replace

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sealing import KEY, OTHER, SMALL, TIME, small_book

from levelbook.archive.seal import (
    FORMAT,
    fingerprint,
    is_weak,
    make_seal,
    read_seal,
    signature_holds,
)
from levelbook.archive.sealed import seal_book
from levelbook.book import digest
from levelbook.errors import DocumentError

SEAL = seal_book(small_book(), KEY, TIME)


def test_seal_names_what_it_seals() -> None:
    """A seal carries the digest, key and time that it was made of, and its signature holds."""
    assert SEAL.digest == digest(small_book())
    assert (SEAL.time, SEAL.format) == (TIME, FORMAT)
    assert SEAL.key == KEY.public_key().public_bytes_raw().hex()
    assert signature_holds(SEAL)


def test_signature_is_of_the_statement_under_the_format_name() -> None:
    """What is signed can be made again by hand: the format, a line end, canonical JSON."""
    said = (
        f'levelbook-seal/1\n{{"digest":"{SEAL.digest}","format":"levelbook-seal/1",'
        f'"key":"{SEAL.key}","time":"{TIME}"}}'
    )
    KEY.public_key().verify(bytes.fromhex(SEAL.signature), said.encode())


def test_key_of_rfc_8032() -> None:
    """Secret and public key of the first test vector (RFC 8032, section 7.1)."""
    secret = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
    public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
    private = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    assert make_seal("0" * 64, private, TIME).key == public


@pytest.mark.parametrize(
    ("part", "value"),
    [
        ("digest", "0" * 64),
        ("time", "2026-05-14T18:00:01Z"),
        ("key", OTHER.public_key().public_bytes_raw().hex()),
        ("signature", "0" * 128),
        ("key", "f" * 64),
    ],
)
def test_every_part_is_signed(part: str, value: str) -> None:
    """A seal with one part of another does not hold."""
    assert not signature_holds(replace(SEAL, **{part: value}))


@pytest.mark.parametrize(
    ("part", "value"),
    [
        ("digest", "A" * 64),
        ("digest", "a" * 63),
        ("key", 7),
        ("time", "2026-05-14T18:00:00"),
        ("time", "2026-02-30T18:00:00Z"),
        ("time", "２026-05-14T18:00:00Z"),
        ("time", TIME + "\n"),
        ("format", "levelbook-seal/2"),
        ("signature", None),
    ],
)
def test_damaged_parts_are_named(part: str, value: object) -> None:
    """Each part has one form; another is told by its place."""
    with pytest.raises(DocumentError) as told:
        read_seal(SEAL.as_json() | {part: value})
    assert [(f.code, f.place) for f in told.value.faults] == [("seal-part", f"seal.{part}")]


def test_all_faults_at_once() -> None:
    """Missing and unknown parts are told together."""
    with pytest.raises(DocumentError) as told:
        read_seal({"format": FORMAT, "more": 1})
    assert [f.code for f in told.value.faults] == ["seal-part"] * 4 + ["seal-unknown"]


@pytest.mark.parametrize("value", [None, [], "seal", 1])
def test_what_is_no_object_is_no_seal(value: object) -> None:
    """Anything but an object is refused as a whole."""
    with pytest.raises(DocumentError) as told:
        read_seal(value)
    assert told.value.faults[0].code == "seal-shape"


def test_seal_reads_back() -> None:
    """A seal written as JSON is the same seal."""
    assert read_seal(SEAL.as_json()) == SEAL


def test_fingerprint_can_be_read_out() -> None:
    """Twenty-four digits in groups of four: 96 bits, past any search for a second one."""
    assert fingerprint("0123456789abcdef" * 4) == "0123 4567 89ab cdef 0123 4567"
    assert SEAL.fingerprint == fingerprint(SEAL.digest)


PRIME = 2**255 - 19
D = -121665 * pow(121666, PRIME - 2, PRIME) % PRIME


def add(one: tuple[int, int], other: tuple[int, int]) -> tuple[int, int]:
    """Return the sum of two points of the curve (RFC 8032, section 5.1.4, affine)."""
    (x1, y1), (x2, y2) = one, other
    k = D * x1 * x2 * y1 * y2
    x = (x1 * y2 + x2 * y1) * pow(1 + k, PRIME - 2, PRIME)
    y = (y1 * y2 + x1 * x2) * pow(1 - k, PRIME - 2, PRIME)
    return x % PRIME, y % PRIME


def root(square: int) -> int | None:
    """Return a square root modulo the prime (RFC 8032, section 5.1.3), if there is one."""
    guess = pow(square, (PRIME + 3) // 8, PRIME)
    for factor in (1, pow(2, (PRIME - 1) // 4, PRIME)):
        if (guess * factor) ** 2 % PRIME == square % PRIME:
            return guess * factor % PRIME
    return None


def points_of_small_order() -> set[tuple[int, int]]:
    """Return the points that eight times themselves is nothing, found by multiplying out.

    A point times the order of the large subgroup leaves only its part of small order.
    """
    large = 2**252 + 27742317777372353535851937790883648493
    found: set[tuple[int, int]] = set()
    y = 1
    while len(found) < 8:
        y += 1
        x = root((y * y - 1) * pow(D * y * y + 1, PRIME - 2, PRIME) % PRIME)
        if x is not None:
            total, power, left = (0, 1), (x, y), large
            while left:
                if left & 1:
                    total = add(total, power)
                power, left = add(power, power), left >> 1
            found.add(total)
    return found


def test_keys_of_small_order_are_refused() -> None:
    """All eight points of small order are weak, however they are encoded; real keys are not."""
    for x, y in points_of_small_order():
        for number in {y, y + PRIME} if y + PRIME < 2**255 else {y}:
            assert is_weak((number | (x & 1) << 255).to_bytes(32, "little").hex())
    for secret in range(50):
        key = Ed25519PrivateKey.from_private_bytes(bytes([secret] * 32))
        assert not is_weak(key.public_key().public_bytes_raw().hex())


def test_a_seal_by_a_weak_key_does_not_hold() -> None:
    """The neutral point as key and as commitment satisfies the equation, and is refused."""
    neutral = "01" + "00" * 31
    forged = replace(SEAL, key=neutral, signature=neutral + "00" * 32)
    assert not signature_holds(forged)


def test_two_books_have_two_seals() -> None:
    """Another value, the same number written otherwise, gives another digest."""
    assert SMALL["readings"][0]["value"] == "-0.50"
    one = digest(small_book())
    reading = small_book().readings[0].model_copy(update={"value": "-0.5"})
    assert digest(small_book().model_copy(update={"readings": (reading,)})) != one
