"""Bodies that are read as they are, so that what is wrong can be told by its place."""

from collections.abc import Awaitable, Callable
from typing import Any

from fastapi import Request
from pydantic import BaseModel

from app.api.access import Member
from app.domain.errors import MarchstoneError

JSON, CSV = "application/json", "text/csv"


class OtherKind(MarchstoneError):
    status = 415
    title = "Another kind of text"


def body_of(kind: str) -> Callable[..., Awaitable[bytes]]:
    """Read only for a member, and only if it says that it is of this kind."""

    async def read(request: Request, person: Member) -> bytes:  # noqa: ARG001 - asked for first
        told = request.headers.get("content-type", "").partition(";")[0].strip().lower()
        if told != kind:
            raise OtherKind(f"Send {kind} here, and say so with Content-Type.")
        return await request.body()

    return read


def described(kind: str, schema: dict[str, Any], example: object) -> dict[str, Any]:
    """The part of a route's description that tells its body."""
    content = {kind: {"schema": schema, "example": example}}
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
