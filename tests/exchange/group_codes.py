"""A plain reader of DXF text, by group codes alone: shares nothing with the writer."""

from dataclasses import dataclass, field


@dataclass
class Entity:
    """One entity: its type, its layer and its groups in order."""

    kind: str
    groups: list[tuple[int, str]] = field(default_factory=list)

    def all(self, code: int) -> list[str]:
        """Return every value of a code."""
        return [value for c, value in self.groups if c == code]

    def first(self, code: int, default: str = "0") -> str:
        """Return the first value of a code."""
        return next(iter(self.all(code)), default)

    @property
    def layer(self) -> str:
        """Return the layer's name."""
        return self.first(8)

    def points(self) -> list[tuple[float, float]]:
        """Return the corners of a polyline."""
        xs, ys = map(float, self.all(10)), map(float, self.all(20))
        return list(zip(xs, ys, strict=True))


def pairs(data: bytes) -> list[tuple[int, str]]:
    """Return a file's groups: a code's line, then its value's."""
    lines = data.decode("utf-8").splitlines()
    assert len(lines) % 2 == 0
    return [(int(lines[i]), lines[i + 1]) for i in range(0, len(lines), 2)]


def section(groups: list[tuple[int, str]], name: str) -> list[tuple[int, str]]:
    """Return the groups of one section."""
    start = groups.index((2, name)) + 1
    assert groups[start - 2] == (0, "SECTION")
    return groups[start : groups.index((0, "ENDSEC"), start)]


def header(data: bytes) -> dict[str, str]:
    """Return the header's variables (their first value)."""
    groups = section(pairs(data), "HEADER")
    return {v: groups[i + 1][1] for i, (code, v) in enumerate(groups) if code == 9}


def entities(data: bytes) -> list[Entity]:
    """Return the entities of the model's space."""
    found: list[Entity] = []
    for code, value in section(pairs(data), "ENTITIES"):
        if code == 0:
            found.append(Entity(value))
        else:
            found[-1].groups.append((code, value))
    return found


def layers(data: bytes) -> set[str]:
    """Return the names in the table of layers."""
    groups = section(pairs(data), "TABLES")
    return {
        next(v for c, v in groups[i + 1 :] if c == 2)
        for i, group in enumerate(groups)
        if group == (0, "LAYER")
    }
