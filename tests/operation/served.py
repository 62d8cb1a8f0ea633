"""A real server in a thread of this process, for what only a real connection shows."""

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import uvicorn

from levelbook.app.slow import limits


@contextmanager
def running(app: Any, **settings: Any) -> Iterator[int]:
    """Give the port of a running server of ``app``."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    given = limits() | {"log_config": None, "access_log": False} | settings
    server = uvicorn.Server(uvicorn.Config(app, proxy_headers=False, **given))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield listening.getsockname()[1]
    server.should_exit = True
    thread.join()
    listening.close()


def read_all(sock: socket.socket) -> bytes:
    """Return everything until the other side hangs up."""
    data = b""
    try:
        while piece := sock.recv(65_536):
            data += piece
    except ConnectionError:
        pass
    return data
