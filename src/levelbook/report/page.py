"""One HTML file that needs nothing else: the same contents as the PDF, for every screen.

No address outside the file is named, and the page's own policy forbids any: style and script
are inside and allowed by their hashes, pictures are inside as data.
"""

import json
from base64 import b64encode
from collections.abc import Mapping, Sequence
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import Any

from levelbook.report.blocks import Contents, Cover
from levelbook.report.labels import Labels
from levelbook.report.markup import points, section, text


@cache
def _part(name: str) -> str:
    """Return the page's style or script."""
    return (files("levelbook.report") / "templates" / name).read_text("utf-8")


def allowed(code: str) -> str:
    """Return the source expression that allows one inline style or script (CSP level 2)."""
    return f"'sha256-{b64encode(sha256(code.encode()).digest()).decode()}'"


def policy() -> str:
    """Return the page's content security policy: nothing from anywhere else."""
    return (
        f"default-src 'none'; style-src {allowed(_part('report.css'))}; "
        f"script-src {allowed(_part('report.js'))}; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def address(content: bytes, mime: str) -> str:
    """Return content as a data address."""
    return f"data:{mime};base64,{b64encode(content).decode()}"


def data_block(name: str, data: Mapping[str, Any]) -> str:
    """Return data for the script; no text in it can end the element."""
    told = json.dumps(data, ensure_ascii=True, separators=(",", ":"))
    for char in "<>&":
        told = told.replace(char, f"\\u{ord(char):04x}")
    return f'<script type="application/json" id="{name}">{told}</script>'


def render(
    contents: Contents,
    pictures: Mapping[str, str],
    stations: Mapping[str, Any],
    downloads: Sequence[tuple[str, str, bytes]],
    label: Labels,
) -> bytes:
    """Return the page; ``pictures`` are SVG by name and photographs as data addresses.

    ``stations`` is what the plan tells when a station is chosen; ``downloads`` are label, file
    name and content of what the page carries.
    """
    chapters = "\n".join(section(s, pictures) for s in contents.sections)
    body = f"""<a class="skip" href="#report">{text(label("web.skip"))}</a>
<header><p>{text(contents.label)}</p><p>{text(contents.banner)}</p></header>
<main id="report" tabindex="-1">
{_cover(contents.cover, pictures, label)}
{_contents(contents, label)}
{chapters}
</main>
{_footer(contents, downloads)}
{data_block("stations", stations)}
<script>{_part("report.js")}</script>"""
    return f"""<!doctype html>
<html lang="{text(contents.language)}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy()}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{text(contents.cover.title)}: {text(contents.label)}</title>
<style>{_part("report.css")}</style>
</head>
<body>
{body}
</body>
</html>
""".encode("utf-8", "replace")


def _cover(cover: Cover, pictures: Mapping[str, str], label: Labels) -> str:
    summary = "".join(f"<p>{text(s)}</p>" for s in cover.summary)
    summary += "".join(f'<p class="alert">{text(s)}</p>' for s in cover.alerts)
    two = "".join(
        f"<div><h2>{text(title)}</h2>{points(items)}</div>"
        for title, items in (cover.meaning, cover.advice)
    )
    hint = text(label("web.tap"))
    return f"""{_logo(cover, pictures)}<p class="kicker">{text(cover.kicker)}</p>
<h1>{text(cover.title)}</h1>
<p class="subtitle">{text(cover.subtitle)}</p>
<div class="live" id="live">
<figure class="drawing"><div class="paper">
{pictures[cover.picture.name]}</div>
<figcaption>{text(cover.picture.caption)} <span class="hint">{hint}</span></figcaption></figure>
<aside class="panel" id="panel" aria-live="polite" aria-label="{text(label("web.panel"))}">
<p>{text(label("web.nothing"))}</p></aside>
</div>
<div class="summary">{summary}</div>
<div class="two">{two}</div>
<p class="foot">{text(cover.foot)}</p>"""


def _logo(cover: Cover, pictures: Mapping[str, str]) -> str:
    """Return the firm's logo, if there is one."""
    logo = cover.logo
    if logo is None:
        return ""
    return f'<img class="logo" src="{pictures[logo.file]}" alt="{text(logo.alt)}">\n'


def _contents(contents: Contents, label: Labels) -> str:
    links = "".join(f'<li><a href="#{s.id}">{text(s.title)}</a></li>' for s in contents.sections)
    return f'<nav aria-label="{text(label("web.contents"))}"><ul>{links}</ul></nav>'


def _footer(contents: Contents, downloads: Sequence[tuple[str, str, bytes]]) -> str:
    links = "".join(
        f'<p><a download="{text(name)}" href="{address(content, "application/json")}">'
        f"{text(title)}</a></p>"
        for title, name, content in downloads
    )
    told = " · ".join((contents.label, contents.date, contents.fingerprint, contents.banner))
    return f"<footer>{links}<p>{text(told)}</p></footer>"
