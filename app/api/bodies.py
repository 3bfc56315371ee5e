"""Bodies that are read as they are, so that what is wrong can be told by its place."""

import tempfile
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from typing import Any, BinaryIO, cast

from fastapi import Request
from pydantic import BaseModel

from app.api.access import Member
from app.domain.errors import MarchstoneError

JSON, CSV, NDJSON = "application/json", "text/csv", "application/x-ndjson"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_IN_MEMORY = 2**20  # bytes


class OtherKind(MarchstoneError):
    status = 415
    title = "Another kind of text"


def body_of(*kinds: str) -> Callable[..., Awaitable[bytes]]:
    """Read only for a member, and only if it says that it is of one of these kinds."""

    async def read(request: Request, person: Member) -> bytes:  # noqa: ARG001 - asked for first
        _check_kind(request, kinds)
        return await request.body()

    return read


def _check_kind(request: Request, kinds: Sequence[str]) -> None:
    told = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if told not in kinds:
        raise OtherKind(f"Send {' or '.join(kinds)} here, and say so with Content-Type.")


def file_of(*kinds: str) -> Callable[..., AsyncIterator[BinaryIO]]:
    """As `body_of`, but a large one waits on the disk. It is gone after the answer."""

    async def read(request: Request, person: Member) -> AsyncIterator[BinaryIO]:  # noqa: ARG001
        _check_kind(request, kinds)
        with tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY) as content:
            async for piece in request.stream():
                content.write(piece)
            content.seek(0)
            yield cast("BinaryIO", content)

    return read


def described(
    kind: str, schema: dict[str, Any], example: object, *, also: str | None = None
) -> dict[str, Any]:
    """The part of a route's description that tells its body; `also` is a kind that is no text."""
    content: dict[str, Any] = {kind: {"schema": schema, "example": example}}
    if also is not None:
        content[also] = {"schema": {"type": "string", "format": "binary"}}
    return {"requestBody": {"required": True, "content": content}}


def schema_of(model: type[BaseModel]) -> dict[str, Any]:
    """With everything in its place: references would point to nowhere in the whole description."""
    schema = model.model_json_schema(by_alias=True)
    parts = schema.pop("$defs", {})
    found: dict[str, Any] = _inlined(schema, parts)
    return found


def _inlined(part: Any, parts: dict[str, Any]) -> Any:
    if isinstance(part, list):
        return [_inlined(one, parts) for one in part]
    if not isinstance(part, dict):
        return part
    if "$ref" in part:
        return _inlined(parts[part["$ref"].rpartition("/")[2]], parts)
    return {
        name: _inlined(one, parts)
        for name, one in part.items()
        if name != "discriminator"  # its mapping is made of references
    }
