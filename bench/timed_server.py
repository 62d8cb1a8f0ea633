"""The app's server with a watch on the stages of its answers, for ``in_browser.py``.

Run as ``python bench/timed_server.py FOLDER PORT``: serves the store in a folder until its input
closes, then prints as JSON how long each stage took, in milliseconds, run by run.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import json
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

import uvicorn
from starlette.responses import JSONResponse

from levelbook.app import desk
from levelbook.app.server import make_app
from levelbook.archive.store import Store

STAGES: tuple[tuple[str, Any, str], ...] = (
    ("sync", Store, "sync"),
    ("answer", desk.Desk, "live"),
    ("draft", desk.Desk, "draft"),
    ("levels", desk, "reduce"),
    ("shape", desk, "live_floor"),
    ("contours", desk, "contours"),
    ("remarks", desk, "notices"),
    ("JSON", JSONResponse, "render"),
)
"""Names of the stages and what does them; drafts and JSON of other answers count too."""


Given, Made = ParamSpec("Given"), TypeVar("Made")


def watched(call: Callable[Given, Made], times: list[float]) -> Callable[Given, Made]:
    """Return a function that notes how long each of its runs takes."""

    def run(*args: Given.args, **kwargs: Given.kwargs) -> Made:
        start = time.perf_counter()
        result = call(*args, **kwargs)
        times.append(1e3 * (time.perf_counter() - start))
        return result

    return run


def main() -> None:
    """Serve until the input closes; tell the times."""
    taken: dict[str, list[float]] = defaultdict(list)
    for name, owner, attribute in STAGES:
        setattr(owner, attribute, watched(getattr(owner, attribute), taken[name]))
    config = uvicorn.Config(make_app(Path(sys.argv[1])), port=int(sys.argv[2]), log_level="error")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    sys.stdin.read()
    server.should_exit = True
    thread.join(10)
    sys.stdout.write(json.dumps(taken))


if __name__ == "__main__":
    main()
