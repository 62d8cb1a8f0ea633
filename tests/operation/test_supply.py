"""What the program is made of is listed whole, and a known weakness stops the run."""

import json
import re
from pathlib import Path

import pytest
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

import audit
import sbom

ROOT = Path(__file__).resolve().parent.parent.parent


def test_the_list_is_what_the_standard_asks() -> None:
    """The list is CycloneDX 1.6, strictly, and the same locks give the same list."""
    found = json.dumps(sbom.document())
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(found) is None
    assert found == json.dumps(sbom.document())


def test_every_locked_package_is_listed() -> None:
    """Each pin of the lock stands in the list with its hashes, and no tool of the build."""
    lock = (ROOT / "requirements" / "run.lock").read_text("utf-8")
    pins = set(re.findall(r"^([\w.-]+)==([^\s;\\]+)", lock, flags=re.MULTILINE))
    parts = sbom.document()["components"]
    assert pins == {(p["name"], p["version"]) for p in parts if p["purl"].startswith("pkg:pypi/")}
    assert all(p.get("properties") or p.get("hashes") for p in parts)
    names = {p["name"] for p in parts if p["purl"].startswith("pkg:npm/")}
    assert {"preact", "ol"} <= names
    assert "vite" not in names


WEAK = {"name": "thing", "version": "1.0", "vulns": [{"id": "CVE-2000-0001"}]}
SOUND = {"name": "other", "version": "2.0", "vulns": []}
SKIPPED = {"name": "third", "skip_reason": "not known"}


@pytest.mark.parametrize(
    ("told", "weak", "answered", "unanswered", "reached"),
    [
        ({"dependencies": [WEAK, SOUND]}, ("thing 1.0: CVE-2000-0001",), 2, 0, True),
        ({"dependencies": [SOUND, SKIPPED]}, (), 1, 1, True),
        ({"error": "no way"}, (), 0, 0, False),
    ],
)
def test_what_the_list_of_python_weaknesses_tells(told, weak, answered, unanswered, reached):
    """Weak, sound, unknown and unreachable are told apart."""
    found = audit.read_python(json.dumps(told))
    assert found == audit.Outcome(weak, answered, unanswered, reached)


def test_what_the_list_of_page_weaknesses_tells():
    """A weakness of a page's package is found; an answer that is none counts as unreachable."""
    told = {"vulnerabilities": {"x": {"severity": "high"}}, "metadata": {"dependencies": {}}}
    assert audit.read_pages(json.dumps(told)).weaknesses == ("x: high",)
    assert not audit.read_pages('{"message": "405"}').reached
    assert not audit.read_pages("").reached


@pytest.mark.parametrize(
    ("python", "pages", "code", "words"),
    [
        ("", "", 0, "nothing was checked"),
        (json.dumps({"dependencies": [WEAK]}), "", 1, "CVE-2000-0001"),
        (json.dumps({"dependencies": [SKIPPED]}), "", 0, "1 NOT checked"),
        (json.dumps({"dependencies": [SOUND]}), "", 0, "none has a known weakness"),
    ],
)
def test_a_weakness_fails_and_silence_does_not(monkeypatch, capsys, python, pages, code, words):
    """The run fails on a known weakness alone, and never calls clean what was not asked."""
    monkeypatch.setattr(audit, "run", lambda command, *_: pages if "npm" in command else python)
    assert audit.main() == code
    assert words in capsys.readouterr().out
