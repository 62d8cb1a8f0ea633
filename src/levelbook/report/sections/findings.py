"""What was compared with which limit, and where each limit comes from."""

from collections.abc import Iterable

from levelbook.findings.display import finding_text
from levelbook.findings.model import Finding, State
from levelbook.report.blocks import Block, Column, Heading, Mark, Prose, Row, Section, Table
from levelbook.report.figures import MINUS
from levelbook.report.sections.source import Source

MARKS: dict[State, Mark] = {
    "within": "within",
    "beyond": "beyond",
    "too close to call": "close",
    "not measured": "unknown",
}


def findings_section(source: Source) -> Section:
    """Return the criteria set by set, each with value, limit, state, basis and source."""
    label = source.labels
    blocks: list[Block] = []
    if source.assessment.screening.reasons:
        blocks.append(Heading(label("findings.reasons")))
        blocks.append(Prose(source.assessment.screening.reasons, "list"))
    blocks += [Heading(label("findings.compared")), Prose((label("findings.reading"),), "quiet")]
    for key in dict.fromkeys(f.set for f in source.assessment.findings):
        chosen = [f for f in source.assessment.findings if f.set == key]
        blocks += _set_blocks(source, key, chosen)
    if not source.assessment.findings:
        blocks.append(Prose((label("findings.none"),)))
    return Section("findings", label("findings.title"), tuple(blocks), fresh=True)


def _set_blocks(source: Source, key: str, findings: Iterable[Finding]) -> list[Block]:
    info = next((s for s in source.assessment.sets if s.id == key), None)
    label = source.labels
    title = label("findings.caption", set=info.title if info else key)
    columns = (
        Column(label("findings.state")),
        Column(label("findings.what"), width=3),
        Column(label("findings.measured"), width=2.6),
        Column(label("findings.limit"), width=1.5),
        Column(label("findings.basis"), width=1.4),
    )
    blocks: list[Block] = [Heading(info.title if info else key)]
    if info:
        about = label("findings.set", edition=info.edition, when=info.applies_when)
        blocks.append(Prose((f"{about} {info.note}",), "quiet"))
    rows = tuple(_row(source, finding) for finding in findings)
    return [*blocks, Table(title, columns, rows, titled=False)]


def _row(source: Source, finding: Finding) -> Row:
    label = source.labels
    where = f", {source.area_name(finding.area)}" if finding.area else ""
    kind = "" if finding.kind == "movement" else f" ({label.of('kind', finding.kind)})"
    measured, limit = (text.replace("-", MINUS) for text in finding_text(finding))
    cells = (
        label.of("state", finding.state),
        finding.title + where + kind,
        measured,
        limit,
        label.of("basis", finding.basis),
    )
    return Row(cells, note=_note(source, finding), mark=MARKS[finding.state])


def _note(source: Source, finding: Finding) -> str:
    """Return the row's remark, the signs of distress its source asks for, and that source."""
    label = source.labels
    reported = "findings.secondary" if finding.secondary else "findings.source"
    parts = [finding.note[:1].upper() + finding.note[1:]]
    if finding.signs_needed:
        parts.append(label("findings.signs", needs=finding.signs_needed, seen=finding.signs))
    parts.append(label(reported, source=finding.source.removesuffix("; secondary")))
    return " ".join(filter(None, parts))
