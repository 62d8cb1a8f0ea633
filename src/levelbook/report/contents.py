"""The whole report in plain blocks, section by section, from one assessment."""

from hashlib import sha256

from levelbook.report.blocks import Contents, Cover, Section, Shot
from levelbook.report.drawings import Drawn
from levelbook.report.figures import grouped
from levelbook.report.room import SHEETS, first_page, shares
from levelbook.report.sections.distress import distress_section
from levelbook.report.sections.findings import findings_section
from levelbook.report.sections.garage import garage_section
from levelbook.report.sections.method import method_section
from levelbook.report.sections.readings import (
    readings_section,
    stations_section,
    suspects_section,
)
from levelbook.report.sections.record import (
    changes_section,
    issue_section,
    limits_section,
    photo_file,
    photo_kind,
    photos_section,
    record_section,
)
from levelbook.report.sections.shape import shape_section
from levelbook.report.sections.source import Source

LONGEST_LABEL = 60


def contents(source: Source, drawn: Drawn) -> Contents:
    """Return the report of an assessment; ``drawn`` are the drawings it may show."""
    label, book = source.labels, source.book
    sections = (
        plan_section(source, drawn),
        findings_section(source),
        distress_section(source),
        shape_section(source, drawn.of("deflection", "profile")),
        garage_section(source, drawn.of("garage")),
        issue_section(source),
        limits_section(source),
        method_section(source, drawn.of("error")),
        suspects_section(source),
        readings_section(source),
        stations_section(source),
        changes_section(source),
        photos_section(source),
        record_section(source),
    )
    return Contents(
        language=label.language,
        label=shortened(book.property.label),
        banner=label("page.banner"),
        fingerprint=_mark(source),
        date=book.visit.date,
        paging=label("page.paging", page="{page}", pages="{pages}"),
        cover=cover(source, drawn),
        sections=tuple(s for s in sections if s is not None and s.blocks),
    )


def cover(source: Source, drawn: Drawn) -> Cover:
    """Return the page that a buyer needs."""
    label, book, words = source.labels, source.book, source.assessment.words
    issue = source.issue
    foot = label("cover.foot")
    body, _ = first_page(words, foot, SHEETS[book.units.plan])
    subtitle = label("cover.subtitle", label=shortened(book.property.label), date=book.visit.date)
    who = ", ".join(filter(None, (book.visit.surveyor, source.firm.name)))
    if who:
        subtitle = label("cover.by", subtitle=subtitle, who=shortened(who))
    return Cover(
        kicker=label("cover.kicker") if issue is None else label("cover.issue", issue=issue.name),
        title=words.title,
        subtitle=subtitle,
        summary=words.summary,
        alerts=words.alerts,
        meaning=(words.labels.get("meaning", label("cover.meaning")), words.meaning),
        advice=(words.labels.get("advice", label("cover.advice")), words.advice),
        foot=foot,
        note=label("cover.note"),
        picture=drawn.cover,
        body=body,
        shares=shares(words),
        logo=_logo(source),
    )


def _logo(source: Source) -> Shot | None:
    """Return the firm's logo, if it is a picture that the report can show."""
    firm = source.firm
    kind = photo_kind(firm.logo)
    if kind is None:
        return None
    file = photo_file(sha256(firm.logo).hexdigest(), kind)
    told = source.labels("cover.logo", firm=firm.name) if firm.name else source.labels("cover.mark")
    return None if file in source.damaged else Shot(file, told, "")


def plan_section(source: Source, drawn: Drawn) -> Section:
    """Return the plan by itself, as large as a page."""
    return Section("plan", source.labels("plan.title"), drawn.of("plan"), fresh=True)


def _mark(source: Source) -> str:
    """Return what tells this report from any other: the record's fingerprint, the issue."""
    told = source.labels("page.fingerprint", digest=grouped(source.assessment.digest))
    return told if source.issue is None else f"{told} · {source.issue.name}"


def shortened(text: str) -> str:
    """Return a name that fits on a line; the whole of it stands in the record's section."""
    return text if len(text) <= LONGEST_LABEL else text[: LONGEST_LABEL - 1].rstrip() + "…"
