"""What a seal proves of a record, and what it does not, in plain words."""

from dataclasses import dataclass
from typing import Any, Literal

from levelbook import __version__
from levelbook.archive.opening import OpenedBook, Source
from levelbook.archive.seal import Seal, fingerprint, signature_holds
from levelbook.book import digest

Why = Literal["not sealed", "signature", "changed", "other key"]

_WHY: dict[Why, str] = {
    "not sealed": "There is no seal on this record.",
    "signature": "The signature does not belong to this seal: the seal was altered, or was "
    "never made with the key that it names.",
    "changed": "The record is not the one that was sealed: something in it is different.",
    "other key": "The seal was made with another key than the one asked for.",
}
_NOT_PROVED: tuple[str, ...] = (
    "That the readings are right, or were taken at this house: the seal is of what was written.",
    "That the time of sealing is right: it is what the sealer's clock showed.",
    "Who holds the key: anyone can make a key and seal with it. Compare its fingerprint with "
    "one that you got from its holder.",
)
_PAGES = (
    "What the pages print: the seal is of the record inside the file. To be sure of a page, "
    "make the report again from this file and compare."
)
_PHOTOGRAPHS = (
    "That a photograph beside the record is the one meant, unless its SHA-256 is the one that "
    "the record names."
)


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether a record is proved unchanged; ``why`` it is not, all reasons, else empty."""

    source: Source
    digest: str
    seal: Seal | None
    why: tuple[Why, ...]
    photographs: bool = False

    @property
    def proved(self) -> bool:
        """Whether the record is unchanged since it was sealed with the key of the seal."""
        return not self.why

    @property
    def proves(self) -> tuple[str, ...]:
        """Return what is proved, as sentences; nothing if the seal does not hold."""
        if self.seal is None or not self.proved:
            return ()
        return (
            "Every reading and everything else in the record is as it was when it was sealed.",
            f"It was sealed with the key {fingerprint(self.seal.key)}.",
        )

    @property
    def does_not_prove(self) -> tuple[str, ...]:
        """Return what a seal cannot prove, as sentences."""
        if self.seal is None:
            return ()
        told = _NOT_PROVED
        told += (_PAGES,) if self.source == "report" else ()
        return told + ((_PHOTOGRAPHS,) if self.photographs else ())

    @property
    def reasons(self) -> tuple[str, ...]:
        """Return why nothing is proved, as sentences."""
        return tuple(_WHY[why] for why in self.why)

    def as_json(self) -> dict[str, Any]:
        """Return the verdict as a JSON document."""
        return {
            "format": "levelbook/1",
            "program": f"levelbook {__version__}",
            "sha256": self.digest,
            "proved": self.proved,
            "source": self.source,
            "fingerprint": fingerprint(self.digest),
            "seal": None if self.seal is None else self.seal.as_json(),
            "why": list(self.why),
            "reasons": list(self.reasons),
            "proves": list(self.proves),
            "does_not_prove": list(self.does_not_prove),
        }


def verify(opened: OpenedBook, key: str | None = None) -> Verdict:
    """Return what the seal of an opened book proves.

    ``key`` is the public key that it must have been sealed with (64 hexadecimal digits, lower
    case); without it, the key that the seal names is taken.
    """
    found, seal = digest(opened.book), opened.seal
    why: list[Why] = []
    if seal is None:
        why.append("not sealed")
    else:
        if not signature_holds(seal):
            why.append("signature")
        if seal.digest != found:
            why.append("changed")
        if key is not None and seal.key != key:
            why.append("other key")
    return Verdict(opened.source, found, seal, tuple(why), bool(opened.book.photos))
