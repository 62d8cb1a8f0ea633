"""Write the list of everything the program is made of, as CycloneDX 1.6 (JSON).

Python packages come from ``requirements/run.lock`` with the hashes of their files, the pages'
packages from ``web/package-lock.json``. The same locks give the same bytes: no time, no
chance. Run as ``make sbom``; the list goes to ``out/sbom.json`` or the file named.
"""

import base64
import json
import re
import sys
import tomllib
import uuid
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
TARGET = ROOT / "out" / "sbom.json"
_PIN = re.compile(r"^([\w.-]+)==([^\s;\\]+)", re.MULTILINE)
_ALGORITHMS = {"sha1": "SHA-1", "sha256": "SHA-256", "sha384": "SHA-384", "sha512": "SHA-512"}

Component = dict[str, Any]


def python_packages(lock: str) -> Iterator[Component]:
    """Yield the packages of a lock file; each file's hash stands as a property."""
    for pin in re.split(r"^(?=[\w.-]+==)", lock, flags=re.MULTILINE):
        found = _PIN.match(pin)
        if found is None:
            continue
        name, version = found[1], found[2]
        hashes = re.findall(r"--hash=sha256:([0-9a-f]{64})", pin)
        component = _component(
            name, version, f"pkg:pypi/{name.lower().replace('_', '-')}@{version}"
        )
        component["licenses"] = _licences(name)
        component["properties"] = [{"name": "levelbook:file:sha256", "value": h} for h in hashes]
        yield {key: value for key, value in component.items() if value}


def page_packages(lock: str) -> Iterator[Component]:
    """Yield the packages that go into the pages; tools that build them are left out."""
    for path, about in sorted(json.loads(lock)["packages"].items()):
        if not path or about.get("dev") or about.get("link"):
            continue
        name = about.get("name") or path.rpartition("node_modules/")[2]
        version = about["version"]
        component = _component(name, version, f"pkg:npm/{name.replace('@', '%40', 1)}@{version}")
        component["licenses"] = _licence(about.get("license"))
        component["hashes"] = [_hash(part) for part in about.get("integrity", "").split()]
        yield {key: value for key, value in component.items() if value}


def document() -> dict[str, Any]:
    """Return the whole list."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    parts = [
        *python_packages((ROOT / "requirements" / "run.lock").read_text("utf-8")),
        *page_packages((ROOT / "web" / "package-lock.json").read_text("utf-8")),
    ]
    name, version = project["name"], project["version"]
    own = _component(name, version, f"pkg:pypi/{name}@{version}") | {"type": "application"}
    own["licenses"] = _licence(project["license"])
    number = uuid.uuid5(uuid.NAMESPACE_URL, json.dumps(parts, sort_keys=True))
    return {
        "$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "serialNumber": f"urn:uuid:{number}",
        "version": 1,
        "metadata": {"component": own},
        "components": parts,
        "dependencies": [{"ref": own["bom-ref"], "dependsOn": [p["bom-ref"] for p in parts]}],
    }


def _component(name: str, version: str, purl: str) -> Component:
    return {"type": "library", "bom-ref": purl, "name": name, "version": version, "purl": purl}


def _licences(name: str) -> list[dict[str, Any]]:
    """Return the licence that an installed package tells of itself; none if it is not here."""
    try:
        named = distribution(name).metadata.get_all("License-Expression")
    except PackageNotFoundError:
        return []
    return _licence(named[0] if named else None)


def _licence(expression: str | None) -> list[dict[str, Any]]:
    return [{"expression": expression}] if expression else []


def _hash(integrity: str) -> dict[str, str]:
    """Return a subresource integrity text as CycloneDX writes hashes."""
    kind, _, value = integrity.partition("-")
    return {"alg": _ALGORITHMS[kind], "content": base64.b64decode(value).hex()}


def main(arguments: list[str]) -> None:
    """Write the list to the file named, or to its usual place."""
    target = Path(arguments[0]) if arguments else TARGET
    target.parent.mkdir(parents=True, exist_ok=True)
    found = document()
    target.write_text(json.dumps(found, indent=1, ensure_ascii=False) + "\n", "utf-8")
    sys.stdout.write(f"{target}: {len(found['components'])} packages\n")


if __name__ == "__main__":
    main(sys.argv[1:])
