"""Headings and labels live in one data file, all of them used and none missing."""

import re
from pathlib import Path
from typing import get_args

import pytest

import levelbook.report
from levelbook.book import model
from levelbook.findings.display import COMPASS, SHEET
from levelbook.findings.model import Basis, Kind, State
from levelbook.floor.model import BendWord, Shape, SuspectKind
from levelbook.report.labels import load_labels

SOURCES = sorted(Path(levelbook.report.__file__).parent.rglob("*.py"))
WORD_GROUPS = {
    "state": get_args(State),
    "basis": get_args(Basis),
    "kind": [k for k in get_args(Kind) if k != "movement"],
    "bend": [*get_args(BendWord), *get_args(Shape)],
    "suspect": get_args(SuspectKind),
    "area": get_args(model.Area.model_fields["kind"].annotation),
    "instrument": get_args(model.Instrument.model_fields["kind"].annotation),
    "sense": get_args(model.Instrument.model_fields["higher_reads"].annotation),
    "sign": get_args(model.Distress.model_fields["kind"].annotation),
    "element": get_args(model.Distress.model_fields["element"].annotation),
    "compass": [key.partition(".")[2] for key in COMPASS],
    "sheet": [key.partition(".")[2] for key in SHEET],
}


@pytest.mark.parametrize("group", WORD_GROUPS)
def test_every_word_of_a_closed_list_has_a_label(group: str) -> None:
    """Each word of the document's and the results' closed lists has a label, and no other."""
    labels = load_labels().texts
    there = {key.partition(".")[2] for key in labels if key.startswith(f"{group}.")}
    assert there == set(WORD_GROUPS[group])


def test_every_label_is_used() -> None:
    """No label is left over: each is named in the code or belongs to a closed list."""
    code = "\n".join(path.read_text("utf-8") for path in SOURCES)
    for key in load_labels().texts:
        group, _, name = key.partition(".")
        grouped = group in WORD_GROUPS or f'.of("{group}"' in code
        built = re.search(rf'"{group}\.{{', code) and f'"{name}"' in code
        assert grouped or f'"{key}"' in code or built, key


def test_a_missing_label_is_an_error_and_an_unknown_word_is_shown() -> None:
    """A label that code asks for must be there; a user's own word is shown as it is."""
    labels = load_labels()
    with pytest.raises(KeyError):
        labels("cover.no-such-label")
    assert labels.of("sign", "new-kind") == "new kind"
