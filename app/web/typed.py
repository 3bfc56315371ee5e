"""What somebody typed, kept at hand so that no error page loses it."""

from collections.abc import AsyncIterator

from fastapi import Request

from app.web.security import SAFE

Typed = tuple[tuple[str, str], ...]


async def keep_typed(request: Request) -> AsyncIterator[None]:
    """Every text of a form but passwords; read before anything can go wrong."""
    if request.method in SAFE:
        yield
        return
    async with request.form() as form:  # closes the files that came with it
        request.state.typed = tuple(
            (name, value)
            for name, value in form.multi_items()
            if isinstance(value, str) and value and "password" not in name
        )
        yield


def typed_in(request: Request) -> Typed:
    typed: Typed = getattr(request.state, "typed", ())
    return typed
