"""Renew the lock files under ``requirements/`` from pyproject.toml."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DEV = "requirements/dev.lock"
LOCKS = {
    "dev": ["--group", "dev"],
    "run": ["--constraint", DEV],
    "bench": ["--group", "bench", "--constraint", DEV],
}
"""What is tested with is what is run with: the others keep to the versions of ``dev``."""


def main() -> None:
    """Resolve each set for every platform, with hashes and without addresses."""
    for name, groups in LOCKS.items():
        target = f"requirements/{name}.lock"
        command = [str(Path(sys.executable).parent / "uv"), "pip", "compile", "--quiet"]
        command += [
            "--universal",
            "--generate-hashes",
            "--no-emit-index-url",
            "--no-emit-find-links",
            "--no-header",
        ]
        command += ["--python-version", "3.11", "pyproject.toml", *groups, "-o", target]
        subprocess.run(command, check=True, cwd=ROOT)


if __name__ == "__main__":
    main()
