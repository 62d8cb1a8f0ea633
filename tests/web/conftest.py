"""A server of our own for the pages, and devices to look at them with."""

import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import steps
import uvicorn
from steps import DESKTOP

from levelbook.app.pages import STATIC
from levelbook.app.server import make_app

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

PATIENCE = 20_000


class Server:
    """The app on a port of its own; it can be stopped and started again over the same store."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}/"
        self._server: uvicorn.Server | None = None
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Serve; returns when requests are answered."""
        config = uvicorn.Config(
            make_app(self.folder), port=self.port, log_level="error", timeout_graceful_shutdown=1
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        while not self._server.started:
            time.sleep(0.02)

    def stop(self) -> None:
        """Stop serving."""
        if self._server and self._thread:
            self._server.should_exit = True
            self._thread.join(20)
        self._server = self._thread = None


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """Give a running server over an empty store."""
    if not (STATIC / "index.html").is_file():
        pytest.fail("The pages are not built: run make, which builds them, and try again.")
    made = Server(tmp_path / "store")
    made.start()
    yield made
    made.stop()


@pytest.fixture
def device(browser: "Browser") -> "Iterator[Callable[..., BrowserContext]]":
    """Give a maker of devices: each a browser with a store of its own."""
    made = []

    def make(kind: dict[str, object] | None = None) -> "BrowserContext":
        context = browser.new_context(**(kind or DESKTOP), reduced_motion="reduce")
        context.set_default_timeout(PATIENCE)
        made.append(context)
        return context

    yield make
    for context in made:
        context.close()


@pytest.fixture
def faults() -> "Iterator[Callable[[Page], None]]":
    """Give a watcher of pages: a script error or a blocked resource fails the test."""
    yield from steps.watching("net::")
