"""Pairs of readings of the ground outside: what is taken, refused and remarked on."""

import json

import pytest
from book_example import house, put

from levelbook.book import digest, notices, read_book, write_book
from levelbook.errors import DocumentError

PAIR = {"id": "N", "setup": "A", "at": [19, 28], "out": [19, 38], "near": "-4.0", "far": "-10.5"}


def with_pairs(*pairs):
    """Return the example document with these pairs of readings outside."""
    return json.dumps(put(house(), "grades", list(pairs)))


def test_a_document_without_pairs_is_as_it_was():
    """Neither its text nor its digest knows of the list; the digest is the one of old.

    The digest was taken before the list was added to the format.
    """
    book = read_book(json.dumps(house()))
    assert "grades" not in write_book(book)
    assert digest(book) == DIGEST


DIGEST = "592a5ff90e4215980a73c5f1f002a377c9fb3ead4c0acab5efdd8028dc34e54c"


def test_pairs_stand_as_written():
    """Every key comes back as it was, and the digest is another."""
    pair = {**PAIR, "surface": "swale", "struck": True, "instead": "M", "note": "by the tree"}
    other = {**PAIR, "id": "M", "out": [20, 38]}
    book = read_book(with_pairs(pair, other))
    assert json.loads(write_book(book))["grades"] == [pair, other]
    assert digest(book) != DIGEST
    assert read_book(write_book(book)) == book


BAD = [
    ({"out": None, "distance": None}, "grade", "grades[0]", "no way out"),
    ({"distance": 10}, "grade", "grades[0]", "two ways out"),
    ({"out": [19, 28]}, "grade", "grades[0]", "at one place"),
    ({"out": None, "distance": 0}, "grade", "grades[0]", "at one place"),
    ({"setup": "Z"}, "reference", "grades[0].setup", "no setup 'Z'"),
    ({"instead": "M"}, "reference", "grades[0].instead", "no grade 'M'"),
    ({"instead": "N"}, "instead", "grades[0].instead", "only a struck pair"),
    ({"instead": "N", "struck": True}, "instead", "grades[0].instead", "in a circle"),
    ({"surface": "lawn"}, "choice", "grades[0].surface", "lawn"),
    ({"near": "low"}, "value", "grades[0].near", "low"),
    ({"reading": "1"}, "unknown-key", "grades[0].reading", "reading"),
]


@pytest.mark.parametrize(("change", "code", "place", "said"), BAD)
def test_a_pair_that_cannot_be_meant_is_refused(change, code, place, said):
    """Each fault names its place and what is wrong."""
    pair = {k: v for k, v in {**PAIR, **change}.items() if v is not None}
    with pytest.raises(DocumentError) as caught:
        read_book(with_pairs(pair))
    assert any(
        f.code == code and f.place == place and said in f.problem for f in caught.value.faults
    ), caught.value.faults


def test_ids_stand_once():
    """Two pairs of one id are refused."""
    with pytest.raises(DocumentError, match="stands already"):
        read_book(with_pairs(PAIR, PAIR))


REMARKS = [
    ({}, set()),
    ({"at": [19, 34]}, {"grade-place", "grade-short"}),
    ({"out": [19, 18]}, {"grade-place"}),
    ({"out": [19, 33]}, {"grade-short"}),
    ({"out": [19, 33], "surface": "paved"}, set()),
    ({"out": [19, 33], "struck": True}, set()),
]


@pytest.mark.parametrize(("change", "codes"), REMARKS)
def test_what_a_careful_colleague_would_ask(change, codes):
    """Pairs that begin far from a wall, end on a floor or are short are remarked on."""
    book = read_book(with_pairs({**PAIR, **change}))
    assert {n.code for n in notices(book) if n.code.startswith("grade")} == codes


def test_a_setup_for_the_ground_alone_is_not_unused():
    """A zeroing that only pairs outside use is used."""
    document = put(
        json.loads(with_pairs({**PAIR, "setup": "O"})), "setups.2", {"id": "O", "instrument": "L1"}
    )
    book = read_book(json.dumps(document))
    assert not [n for n in notices(book) if "'O'" in n.sentence]


def test_a_garage_that_shares_its_zero_is_told():
    """The example's garage is zeroed apart; read from the house's setup it is remarked on."""
    assert not [n for n in notices(read_book(json.dumps(house()))) if n.code == "garage-zero"]
    document = house()
    for reading in document["readings"]:
        reading["setup"] = "A"
    told = [n for n in notices(read_book(json.dumps(document))) if n.code == "garage-zero"]
    assert len(told) == 1
    assert "not zeroed apart" in told[0].sentence


def test_a_circle_is_told_of_its_members_alone():
    """A pair that leads into a circle is not said to be of it."""
    first = {**PAIR, "id": "L", "struck": True, "instead": "N"}
    circle = [
        {**PAIR, "id": name, "struck": True, "instead": other}
        for name, other in (("N", "M"), ("M", "N"))
    ]
    with pytest.raises(DocumentError) as caught:
        read_book(with_pairs(first, *circle))
    places = [f.place for f in caught.value.faults if f.code == "instead"]
    assert places == ["grades[1].instead", "grades[2].instead"]


@pytest.mark.parametrize(("feet", "codes"), [(6, {"grade-short"}), (10, set())])
def test_a_pair_by_distance_is_measured_by_it(feet, codes):
    """Without a point out, the written distance tells whether a pair is short."""
    pair = {k: v for k, v in PAIR.items() if k != "out"} | {"distance": feet}
    book = read_book(with_pairs(pair))
    assert {n.code for n in notices(book) if n.code.startswith("grade")} == codes
