"""How large a document may be, and how large the things in it.

The limits keep a hostile document from costing more than a moment and a little memory; no
house comes near them. The first five are part of the format, the others are of our choosing.
"""

BYTES = 10_000_000
DEPTH = 32
STATIONS = 5_000
READINGS = 20_000
CORNERS = 200

#: Objects and lists in the whole document, and values in it, whatever they are.
CONTAINERS = 150_000
VALUES = 400_000

#: Entries of each list; a list not named here takes ``OTHER_ENTRIES``.
ENTRIES = {
    "instruments": 100,
    "instruments.checks": 500,
    "areas": 200,
    "areas.outline": CORNERS,
    "areas.holes": 50,
    "areas.holes[]": CORNERS,
    "walls": 2_000,
    "walls[]": CORNERS,
    "finishes": 200,
    "setups": 500,
    "stations": STATIONS,
    "readings": READINGS,
    "distress.line": CORNERS,
}
OTHER_ENTRIES = 2_000

#: Keys of one object (but below ``extra``).
KEYS = 64

ID_LENGTH = 64
VALUE_LENGTH = 64
TEXT_LENGTH = 1_000
NOTE_LENGTH = 20_000

#: Largest size of a coordinate (plan units) and of any other number.
COORDINATE = 1e6
NUMBER = 1e6

#: Whole numbers beyond this are not the same in every program that reads JSON (RFC 8785).
WHOLE = 2**53 - 1

#: Faults told one by one; the rest are counted.
FAULTS = 200
