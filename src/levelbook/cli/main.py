"""The entry of the ``levelbook`` command: one place where errors become words and a code.

Exit codes: 0 nothing to report, 1 findings in the book, 2 bad use or input, 3 a fault of the
program itself, 130 interrupted.
"""

import io
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

import typer
from typer.main import get_command

from levelbook.cli import commands, failures
from levelbook.cli.outputs import emit
from levelbook.cli.threads import one_thread
from levelbook.errors import LevelbookError, UsageError

BAD, OURS, INTERRUPTED = 2, 3, 130


def main(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code; what it cannot do is told in words."""
    try:
        code = _command(list(arguments)) if arguments else _command(["--help"]) or BAD
        sys.stdout.flush()
    except LevelbookError as error:
        return _refused(error, as_json="--json" in arguments)
    except typer.TyperException as error:
        told = UsageError("command line", _plain(error), "see levelbook --help")
        return _refused(told, as_json="--json" in arguments)
    except BrokenPipeError:
        _close_quietly()
        return 0
    except OSError as error:
        return _refused(failures.from_os("output", error), as_json=False)
    except (KeyboardInterrupt, typer.Abort):
        sys.stderr.write("levelbook: interrupted\n")
        return INTERRUPTED
    return int(code or 0)


def _command(arguments: list[str]) -> int | None:
    """Run a command by typer's own command object: its app would replace our excepthook."""
    command = get_command(commands.app)
    code: int | None = command(args=arguments, prog_name="levelbook", standalone_mode=False)
    return code


def _plain(error: typer.TyperException) -> str:
    return error.format_message().strip().rstrip(".").replace("Value error, ", "")


def _refused(error: LevelbookError, *, as_json: bool) -> int:
    """Tell an error a line each on standard error, and as JSON where that was asked for."""
    for line in failures.lines(error):
        sys.stderr.write(f"levelbook: {line}\n")
    if as_json:
        emit(failures.document(error))
    return BAD


def _close_quietly() -> None:
    """Point standard output at nothing: whoever read it has gone, and that is no fault."""
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, sys.stdout.fileno())


def _own_fault(
    kind: type[BaseException], error: BaseException, trace: TracebackType | None
) -> None:
    """Tell a fault of the program in one sentence; ``LEVELBOOK_TRACE=1`` shows where."""
    if os.environ.get("LEVELBOOK_TRACE"):
        sys.__excepthook__(kind, error, trace)
    told = " ".join(f"{kind.__name__}: {error}".split())[:300]
    sys.stderr.write(
        f"levelbook: this is a fault of the program, not of your book ({told}); please report "
        "it with the book, or set LEVELBOOK_TRACE=1 to see where it happened\n"
    )
    sys.stderr.flush()
    os._exit(OURS)


def _open_closed_streams() -> None:
    """Give a process that was started without its standard streams empty ones.

    Without them, the next file opened would get their number and their output.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            stream = Path(os.devnull).open(mode)  # noqa: SIM115 (open as long as the process)
            setattr(sys, name, stream)


def run() -> None:
    """Run the command line of this process and leave with its exit code."""
    sys.excepthook = _own_fault
    one_thread()
    _open_closed_streams()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    code = main(sys.argv[1:])
    try:
        sys.stdout.flush()
    except OSError:
        _close_quietly()
    sys.exit(code)
