"""What a server is told when it starts."""

from dataclasses import dataclass, field
from pathlib import Path

from levelbook.firm.quotas import Quota


@dataclass(frozen=True, slots=True)
class Settings:
    """How a firm's server is reached.

    Attributes
    ----------
    address
        Where people find it, scheme, host and port without a path, such as
        ``https://levels.example.org``. Addresses in messages begin with it, and passkeys are
        made for its host.
    behind_proxy
        Whether every request comes through one proxy that ends https and tells the client's
        address and host.
    folder
        Where the firm's signing keys and ``mail.toml`` lie; beside the photographs if not
        given.
    quota
        How much a person may add within a day, and a firm in all.
    """

    address: str
    behind_proxy: bool = False
    folder: Path | None = None
    quota: Quota = field(default_factory=Quota)

    @property
    def secure(self) -> bool:
        """Tell whether browsers reach it by https."""
        return self.address.startswith("https://")
