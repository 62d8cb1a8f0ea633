"""What a seal proves, on a terminal."""

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from levelbook.archive.keys import PublicKey
from levelbook.archive.seal import fingerprint
from levelbook.archive.verify import Verdict

TITLES = {True: "Proved: unchanged since it was sealed", False: "Not proved"}


def names(file: str, count: int) -> tuple[str, ...]:
    """Return what each of the books in a file is called: a comparison holds two."""
    return (file,) if count == 1 else (f"{file}, earlier visit", f"\n{file}, later visit")


def show(console: Console, file: str, verdict: Verdict, known: Sequence[PublicKey]) -> None:
    """Print a verdict; ``known`` are the keys whose names can be told."""
    console.print(Text(f"{TITLES[verdict.proved]}: {file}", style="bold"))
    console.print(Text(f"record {fingerprint(verdict.digest)}  ({verdict.source})"))
    if verdict.seal is not None:
        names = [each.name for each in known if each.key == verdict.seal.key]
        told = f"kept here as {names[0]}" if names else "not among the keys kept here"
        console.print(Text(f"key    {fingerprint(verdict.seal.key)}  ({told})"))
        console.print(Text(f"time   {verdict.seal.time}  (by the sealer's clock)"))
    _points(console, "Why", verdict.reasons)
    _points(console, "What this proves", verdict.proves)
    _points(console, "What it does not prove", verdict.does_not_prove)


def _points(console: Console, title: str, texts: Sequence[str]) -> None:
    if texts:
        console.print(Text(f"\n{title}", style="bold"))
    for text in texts:
        console.print(Text(f"  • {text}"))
