"""Where water goes: each garage floor in plain words with its drawing, and the ground outside."""

from levelbook.report.blocks import Block, Heading, Picture, Prose, Section
from levelbook.report.sections.source import Source


def garage_section(source: Source, pictures: tuple[Picture, ...]) -> Section | None:
    """Return what is known of garage floors and of the ground outside, ``None`` without either.

    ``pictures`` are named ``garage-`` and the place of the garage in the book, from 1.
    """
    words, label = source.assessment.words, source.labels
    if not words.garages and not words.ground:
        return None
    named = {picture.name: picture for picture in pictures}
    blocks: list[Block] = []
    for n, (area, (first, *rest)) in enumerate(words.garages.items(), 1):
        title = label("garage.floor") if len(words.garages) == 1 else source.area_name(area)
        blocks += [Heading(title), Prose((first,))]
        if f"garage-{n}" in named:
            blocks.append(named[f"garage-{n}"])
        if rest:
            blocks.append(Prose(tuple(rest), "list"))
    if words.garages:
        blocks += [Heading(label("garage.meaning")), Prose(words.water, "list")]
    if words.ground:
        blocks += [Heading(label("garage.ground")), Prose(words.ground, "list")]
    blocks += [Heading(label("garage.cautions")), Prose(words.water_cautions, "list")]
    return Section("garage", label("garage.title"), tuple(blocks), fresh=True)
