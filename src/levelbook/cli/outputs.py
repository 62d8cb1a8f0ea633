"""What a command gives back: JSON on standard output, files put in place whole."""

import json
import os
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from levelbook.cli.failures import from_os
from levelbook.errors import UsageError


def emit(document: Mapping[str, Any], indent: int | None = None) -> None:
    """Print one JSON document on standard output, on one line unless ``indent`` is given."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=indent)
    sys.stdout.buffer.write(text.encode("utf-8", "surrogatepass") + b"\n")
    sys.stdout.buffer.flush()


def save(folder: Path, files: Mapping[str, bytes]) -> list[Path]:
    """Put files into ``folder``, made if needed; each appears whole or not at all.

    Returns the paths in the order given.

    Raises
    ------
    UsageError
        If the folder or a file cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise from_os(str(folder), error) from None
    return [_put(folder / name, content) for name, content in files.items()]


def _put(target: Path, content: bytes) -> Path:
    """Write beside ``target`` first and move it there, so that no half file is ever seen."""
    unfinished = None
    try:
        with tempfile.NamedTemporaryFile(
            dir=target.parent, prefix=f".{target.name}.", delete=False
        ) as file:
            unfinished = Path(file.name)
            file.write(content)
        unfinished.chmod(0o666 & ~_umask())
        unfinished.replace(target)
    except OSError as error:
        raise from_os(str(target), error) from None
    finally:
        if unfinished is not None:
            unfinished.unlink(missing_ok=True)
    return target


def add(target: Path, content: bytes) -> Path:
    """Write a new file; one that is there by now is not touched.

    Raises
    ------
    UsageError
        If there is such a file, or it cannot be written.
    """
    try:
        file = target.open("xb")
    except FileExistsError:
        remedy = "move it, and give the command again"
        raise UsageError(str(target), "there is such a file", remedy) from None
    except OSError as error:
        raise from_os(str(target), error) from None
    try:
        with file:
            file.write(content)
    except OSError as error:
        target.unlink(missing_ok=True)
        raise from_os(str(target), error) from None
    return target


def holds(path: Path, content: bytes) -> bool:
    """Tell whether a file has this content.

    Raises
    ------
    UsageError
        If it cannot be read.
    """
    try:
        return path.stat().st_size == len(content) and path.read_bytes() == content
    except OSError as error:
        raise from_os(str(path), error) from None


def _umask() -> int:
    """Return the process's umask; it can only be read by setting it."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def refuse_foreign(folder: Path, names: list[str], results: str) -> None:
    """Refuse to replace files that this program did not write.

    Files of a former run are known by the JSON result beside them, ``results``: it says which
    program wrote it.

    Raises
    ------
    UsageError
        If one of ``names`` is in the folder and was not written by this program.
    """
    there = [name for name in names if (folder / name).exists()]
    if there and not _ours(folder / results):
        raise UsageError(
            str(folder / there[0]),
            "a file of this name is there already, and this program did not write it",
            "choose another --out, or replace it with --overwrite",
        )


def _ours(results: Path) -> bool:
    try:
        document = json.loads(results.read_bytes())
    except (OSError, ValueError):
        return False
    return isinstance(document, dict) and str(document.get("program")).startswith("levelbook ")
