"""The lock files hold everything that pyproject.toml asks for, with hashes and no addresses."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
GROUPS = {
    "run": [],
    "dev": PROJECT["dependency-groups"]["dev"],
    "bench": PROJECT["dependency-groups"]["bench"],
}


def locked(name: str) -> dict[str, str]:
    """Return the versions that a lock file pins, by canonical name."""
    text = (ROOT / "requirements" / f"{name}.lock").read_text("utf-8")
    return dict(re.findall(r"^([\w.-]+)==([^\s;\\]+)", text, flags=re.MULTILINE))


@pytest.mark.parametrize("name", GROUPS)
def test_everything_asked_for_is_locked(name: str) -> None:
    """Each requirement is pinned to a version that satisfies it: the locks are current."""
    versions = {canonicalize_name(key): version for key, version in locked(name).items()}
    for text in [*PROJECT["project"]["dependencies"], *GROUPS[name]]:
        asked = Requirement(text)
        assert versions.get(canonicalize_name(asked.name), "0") in asked.specifier, text


@pytest.mark.parametrize("name", GROUPS)
def test_locks_have_hashes_and_no_addresses(name: str) -> None:
    """What is installed is what was locked, wherever it comes from."""
    text = (ROOT / "requirements" / f"{name}.lock").read_text("utf-8")
    pins = re.split(r"^(?=[\w.-]+==)", text, flags=re.MULTILINE)[1:]
    assert pins
    assert all("--hash=sha256:" in pin for pin in pins)
    assert "://" not in text


def test_the_sets_agree() -> None:
    """A package has the same version in every lock that has it."""
    run = locked("run")
    for name in ("dev", "bench"):
        other = locked(name)
        assert {k: (v, other[k]) for k, v in run.items() if k in other and other[k] != v} == {}
