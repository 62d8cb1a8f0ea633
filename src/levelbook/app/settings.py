"""What a server is told when it starts."""

from dataclasses import dataclass
from pathlib import Path


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
    """

    address: str
    behind_proxy: bool = False
    folder: Path | None = None

    @property
    def secure(self) -> bool:
        """Tell whether browsers reach it by https."""
        return self.address.startswith("https://")
