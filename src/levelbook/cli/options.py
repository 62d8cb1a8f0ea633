"""Arguments and options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer

BookPath = Annotated[
    str, typer.Argument(metavar="BOOK", help="a level-book file, or - for standard input")
]
Json = Annotated[bool, typer.Option("--json", help="print the result as one JSON document")]
Criteria = Annotated[
    list[str] | None,
    typer.Option(
        "--criteria",
        metavar="NAME|FILE",
        help="a set of criteria by name or file; give it again for more "
        "(default: those that fit the house; see: levelbook criteria)",
    ),
]
DATABASE = "LEVELBOOK_DATABASE"
"""The variable of the environment that may name a firm's database."""
DatabaseUrl = Annotated[
    str,
    typer.Option(
        "--database",
        metavar="URL",
        envvar=DATABASE,
        help="a firm's database: postgresql://USER@HOST/NAME or sqlite:///FILE",
    ),
]
Out = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="folder to write into, made if needed"),
]
Overwrite = Annotated[
    bool, typer.Option("--overwrite", help="replace files that this program did not write")
]
