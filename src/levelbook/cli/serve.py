"""The app on this machine, or a firm's server: pages and store, served until interrupted."""

import os
import socket
import sys
import threading
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from levelbook.cli.failures import told_when_away
from levelbook.cli.options import DatabaseUrl
from levelbook.cli.served import LOOPBACK, Served, check_quota, check_served, found_at
from levelbook.errors import UsageError

if TYPE_CHECKING:
    from starlette.applications import Starlette

GOOD = 0
GRACE = 10
Way = tuple[socket.socket, Path | None, Path | None]
"""What is listened on, and the certificate and key for https."""

Host = Annotated[
    str,
    typer.Option(
        "--host",
        help="address to listen on; others than this machine "
        "reach it only at an address of the network, such as 0.0.0.0",
    ),
]
Port = Annotated[int, typer.Option("--port", min=0, max=65535, help="port; 0 takes a free one")]
Data = Annotated[
    Path | None,
    typer.Option("--data", metavar="DIR", help="folder of the store, made if needed"),
]
Certificate = Annotated[
    Path | None,
    typer.Option("--certificate", metavar="FILE", help="certificate (PEM), for https"),
]
Key = Annotated[
    Path | None, typer.Option("--key", metavar="FILE", help="the certificate's private key (PEM)")
]
Quiet = Annotated[bool, typer.Option("--no-browser", help="do not open the browser")]
Address = Annotated[
    str,
    typer.Option(
        "--address", metavar="URL", help="with --database: where people find the pages, https://…"
    ),
]
Files = Annotated[
    str,
    typer.Option(
        "--files",
        metavar="ADDRESS",
        envvar="LEVELBOOK_FILES",
        help="with --database: where files are kept, a folder or s3://BUCKET/PREFIX",
    ),
]
BehindProxy = Annotated[
    bool,
    typer.Option(
        "--behind-proxy",
        help="with --database: one proxy ends https, and every request comes through it",
    ),
]
Room = Annotated[
    str,
    typer.Option(
        "--quota",
        metavar="N,GB,GB",
        envvar="LEVELBOOK_QUOTA",
        help="with --database: photographs and gigabytes that a person may add in a day, and "
        "gigabytes of a firm in all",
    ),
]
Demo = Annotated[bool, typer.Option("--demo", help="put the invented demo house in an empty store")]


def serve(  # noqa: PLR0913, PLR0917 (each is an option of the command)
    host: Host = "127.0.0.1",
    port: Port = 8321,
    data: Data = None,
    certificate: Certificate = None,
    key: Key = None,
    no_browser: Quiet = False,
    demo: Demo = False,
    database: DatabaseUrl = "",
    address: Address = "",
    behind_proxy: BehindProxy = False,
    files: Files = "",
    quota: Room = "2000,5,1000",
) -> int:
    """Start the app on this machine and open it in the browser; stop it with Ctrl+C.

    With a firm's database it serves the firm, with accounts.
    """
    _check_certificate(certificate, key)
    folder = (data or default_folder()).expanduser().resolve()
    if database:
        if demo:
            problem = "the demo house is for one's own machine, and a firm's database is named"
            raise UsageError("--demo", problem, "leave out --demo, or unset LEVELBOOK_DATABASE")
        served = Served(host, address, secure=certificate is not None, behind_proxy=behind_proxy)
        check_served(served)
        check_quota(quota)
        way = (_listen(host, port), certificate, key)
        with way[0]:
            return _serve_firm(database, (folder, files), served, way, quota)
    if address or behind_proxy:
        option = "--address" if address else "--behind-proxy"
        raise UsageError(option, "this is for a firm's server", "name its --database, too")
    from levelbook.app.hosts import OnlyHosts
    from levelbook.app.server import make_app
    from levelbook.archive.place import STORE

    listening = _listen(host, port)
    app = make_app(folder, demo=demo)
    if host in LOOPBACK:
        app.add_middleware(OnlyHosts, hosts=LOOPBACK)
    shown = _address(host, listening.getsockname()[1], secure=certificate is not None)
    typer.echo(f"Store: {folder / STORE}")
    typer.echo(f"App: {shown}")
    if host not in LOOPBACK and certificate is None:
        typer.echo(
            "Without a certificate the pages work on other devices only while the network does: "
            "see docs/app.md for https."
        )
    sys.stdout.flush()
    if not no_browser:
        threading.Timer(0.8, webbrowser.open, [shown]).start()
    _run(app, (listening, certificate, key), quiet=True)
    return GOOD


def _serve_firm(database: str, kept: tuple[Path, str], served: Served, way: Way, quota: str) -> int:
    """Serve a firm, with accounts, until interrupted."""
    from levelbook.app.server import make_firm_app
    from levelbook.app.settings import Settings
    from levelbook.archive.blobs import Blobs
    from levelbook.archive.bucket import open_shelf
    from levelbook.archive.migrating import open_database
    from levelbook.archive.place import PHOTOS
    from levelbook.firm.quotas import Quota

    folder, files = kept[0], kept[1] or str(kept[0] / PHOTOS)
    with told_when_away():
        opened = open_database(database)
    address = found_at(served, way[0].getsockname()[1])
    room = Quota(*check_quota(quota))
    settings = Settings(address, served.behind_proxy, folder, room)
    app = make_firm_app(opened, Blobs(opened, open_shelf(files)), settings)
    typer.echo(f"Files: {files}")
    typer.echo(f"App: {settings.address}/")
    sys.stdout.flush()
    _run(app, way)
    return GOOD


def default_folder() -> Path:
    """Return the folder of the store where none is named."""
    named = os.environ.get("LEVELBOOK_DATA")
    return Path(named) if named else Path.home() / ".local" / "share" / "levelbook"


def _check_certificate(certificate: Path | None, key: Path | None) -> None:
    """Refuse half a pair, or a file that is not there."""
    if (certificate is None) != (key is None):
        raise UsageError("--certificate", "https needs a certificate and its key", "name both")
    for option, file in (("--certificate", certificate), ("--key", key)):
        if file is not None and not file.is_file():
            raise UsageError(option, f"there is no file {file}", "name a PEM file")


def _listen(host: str, port: int) -> socket.socket:
    """Return a socket that listens.

    Raises
    ------
    UsageError
        If the address is taken or is none of this machine.
    """
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        listening = socket.socket(family, socket.SOCK_STREAM)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((host, port))
    except OSError as error:
        problem = f"cannot listen on {host}, port {port}: {error.strerror or error}"
        raise UsageError("--port", problem, "choose another with --port or --host") from None
    return listening


def _address(host: str, port: int, *, secure: bool) -> str:
    shown = "127.0.0.1" if host in ("0.0.0.0", "::") else host
    shown = f"[{shown}]" if ":" in shown else shown
    return f"{'https' if secure else 'http'}://{shown}:{port}/"


def _run(app: "Starlette", way: Way, *, quiet: bool = False) -> None:
    """Serve until interrupted; then requests in hand end, within :data:`GRACE` seconds.

    Where ``quiet``, only what fails is logged.
    """
    import uvicorn

    from levelbook.app.logs import set_up
    from levelbook.app.slow import limits

    listening, certificate, key = way
    set_up(sys.stderr, quiet=quiet)
    config = uvicorn.Config(
        app,
        ssl_certfile=certificate,
        ssl_keyfile=key,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=GRACE,
        log_config=None,
        access_log=False,
        **limits(),
    )
    uvicorn.Server(config).run(sockets=[listening])
