"""Requests whose body takes its time: who sends one is looked at again when it is whole.

Somebody who is shut out, signed out or made less could else begin a request before, keep its
last byte back, and have it done afterwards by the rights of before.
"""

import time
from collections.abc import Awaitable, Callable

from starlette.types import Message, Receive

from levelbook.app.answers import RefusedError

SOON = 1.0
"""Seconds within which a body may come without a second look."""


def looked_again(
    receive: Receive, stands: Callable[[], Awaitable[bool]], soon: float | None = None
) -> Receive:
    """Return ``receive``, which refuses a late body of somebody who does not stand any more.

    Parameters
    ----------
    receive
        What gives the pieces of a request's body.
    stands
        Tells whether who sends it is still who it was when it began, with the same role.
    soon
        Seconds after which that is asked; :data:`SOON` if not given.
    """
    begun, whole = time.monotonic(), False

    async def watched() -> Message:
        nonlocal whole
        message = await receive()
        if whole or message["type"] != "http.request" or message.get("more_body", False):
            return message
        whole = True
        late = time.monotonic() - begun >= (SOON if soon is None else soon)
        if late and not await stands():
            problem = "who began to send this is signed out, or has another role by now"
            raise RefusedError(401, "access", problem, "sign in and send it again")
        return message

    return watched
