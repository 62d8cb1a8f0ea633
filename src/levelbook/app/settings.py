"""What a server is told when it starts."""

from dataclasses import dataclass


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
    """

    address: str
    behind_proxy: bool = False

    @property
    def secure(self) -> bool:
        """Tell whether browsers reach it by https."""
        return self.address.startswith("https://")
