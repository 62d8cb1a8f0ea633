"""An evaluation of an archive from beginning to end, or from where it was broken off."""

import platform
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

from levelbook.archive.evaluation.columns import FORMAT, Criteria
from levelbook.archive.evaluation.crew import Crew
from levelbook.archive.evaluation.parquet import (
    FAILURES,
    MANIFEST,
    Parts,
    Receipt,
    read_manifest,
    write_document,
)
from levelbook.archive.evaluation.plan import Chunk, chunks, run_key, size_for
from levelbook.archive.evaluation.source import Source
from levelbook.archive.evaluation.work import program
from levelbook.errors import UsageError

Progress = Callable[[int], None]
"""Called with how many more visits are done."""


@dataclass(frozen=True, slots=True)
class Summary:
    """What an evaluation came to; ``kept`` are visits whose chunk was done before."""

    visits: int
    rows: int
    failed: int
    kept: int
    parts: int


def run(
    source: Source,
    criteria: Criteria,
    folder: Path,
    crew: Crew,
    *,
    progress: Progress = lambda _: None,
    size: int | None = None,
) -> Summary:
    """Evaluate every visit of ``source`` into ``folder``; chunks done before are kept.

    ``size`` is how many visits a chunk has, about; a folder keeps to the one it began with.

    Raises
    ------
    UsageError
        If the folder holds something else, or figures by other criteria or another version.
    """
    heading = _begin(folder, criteria, size or size_for(source.count()))
    parts, plan = Parts(folder, criteria.columns), _Plan()
    met = chunks(source.visits(), heading["run"], heading["chunk"])
    todo = plan.todo(met, parts, progress)
    for chunk, done in crew.work(todo, criteria):
        plan.receipts[chunk.key] = parts.write(chunk.key, done)
        progress(len(chunk.visits))
    return _finish(folder, heading, parts, plan)


class _Plan:
    """The chunks met so far in their order, and the receipts of those that are done."""

    def __init__(self) -> None:
        self.keys: list[str] = []
        self.receipts: dict[str, Receipt] = {}
        self.visits = self.kept = 0

    def todo(self, met: Iterator[Chunk], parts: Parts, progress: Progress) -> Iterator[Chunk]:
        """Yield the chunks that are not done yet."""
        for chunk in met:
            self.keys.append(chunk.key)
            self.visits += len(chunk.visits)
            receipt = parts.done(chunk.key)
            if receipt is None:
                yield chunk
            else:
                self.receipts[chunk.key] = receipt
                self.kept += len(chunk.visits)
                progress(len(chunk.visits))


def _begin(folder: Path, criteria: Criteria, size: int) -> dict[str, Any]:
    """See that the folder is of this run or new, and say in it that the run is on."""
    before, key = read_manifest(folder), run_key(criteria)
    if before is None and folder.exists() and any(folder.iterdir()):
        problem = "this folder holds other files"
        raise UsageError(str(folder), problem, "choose another --out")
    if before is not None and before.get("run") != key:
        told = f"{before.get('program', '?')}, criteria {_named(before.get('criteria', {}))}"
        problem = f"this folder holds figures by other criteria or another version ({told})"
        raise UsageError(str(folder), problem, "choose another --out")
    folder.mkdir(parents=True, exist_ok=True)
    heading = _heading(criteria, key) | {"chunk": (before or {}).get("chunk", size)}
    write_document(folder, MANIFEST, heading | {"state": "running"})
    return heading


def _named(criteria: dict[str, Any]) -> str:
    sets = criteria.get("sets") or ["each book's own"]
    return f"{', '.join(map(str, sets))}, {str(criteria.get('sha256', '?'))[:12]}"


def _heading(criteria: Criteria, key: str) -> dict[str, Any]:
    """Return what the manifest says of a run: what its rows hang on, and what made them."""
    return {
        "format": FORMAT,
        "run": key,
        "program": program(),
        "criteria": {"sets": list(criteria.names), "sha256": criteria.digest},
        "python": platform.python_version(),
        "libraries": {name: version(name) for name in ("numpy", "scipy", "shapely", "pyarrow")},
        "columns": [asdict(column) for column in criteria.columns],
    }


def _finish(folder: Path, heading: dict[str, Any], parts: Parts, plan: _Plan) -> Summary:
    """Write the list of failures, then the manifest, then delete what is of no chunk."""
    receipts = [plan.receipts[key] for key in plan.keys]
    failed = [asdict(each) for receipt in receipts for each in receipt.failed]
    rows = sum(receipt.rows for receipt in receipts)
    told = [{"key": r.key, "sha256": r.sha256, "rows": r.rows} for r in receipts]
    write_document(folder, FAILURES, {"failures": failed})
    summary = Summary(plan.visits, rows, len(failed), plan.kept, len(receipts))
    counts = {"visits": plan.visits, "rows": rows, "failed": len(failed)}
    write_document(folder, MANIFEST, heading | {"state": "finished"} | counts | {"parts": told})
    parts.keep_only(plan.keys)
    return summary
