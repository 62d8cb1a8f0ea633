"""A comparison as one HTML file that needs nothing else; its policy forbids any address."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files

from levelbook.report.blocks import Section
from levelbook.report.markup import section, text
from levelbook.report.page import allowed


@dataclass(frozen=True, slots=True)
class Page:
    """What names a page."""

    language: str
    title: str
    subtitle: str
    label: str


def render(
    page: Page,
    sections: Sequence[Section],
    pictures: Mapping[str, str],
    foot: tuple[str, str],
) -> bytes:
    """Return the page; ``pictures`` are SVG by name, ``foot`` stands above and below."""
    style = (files("levelbook.report") / "templates" / "report.css").read_text("utf-8")
    policy = f"default-src 'none'; style-src {allowed(style)}; img-src data:; base-uri 'none'"
    chapters = "\n".join(section(each, pictures) for each in sections)
    return f"""<!doctype html>
<html lang="{text(page.language)}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}; form-action 'none'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{text(page.title)}: {text(page.label)}</title>
<style>{style}</style>
</head>
<body>
<header><p>{text(page.label)}</p><p>{text(foot[0])}</p></header>
<main id="report">
<h1>{text(page.title)}</h1>
<p class="subtitle">{text(page.subtitle)}</p>
{chapters}
</main>
<footer><p>{text(foot[1])}</p></footer>
</body>
</html>
""".encode("utf-8", "replace")
