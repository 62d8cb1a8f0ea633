"""The addresses by which people come in, leave, and look after their accounts."""

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from levelbook.firm.roles import HERE


async def me_here(_: Request) -> Response:
    """Answer who sits at one's own machine, where there are no accounts."""
    person = {"id": HERE.person, "name": "", "email": "", "role": HERE.role}
    firm = {"id": HERE.firm, "name": ""}
    return JSONResponse({"person": person, "firm": firm, "csrf": "", "mode": "own"})
