"""For whatever watches over the service: is it alive, is it ready, what does it count?"""

import hmac
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, PlainTextResponse, Response
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest

from app.domain.errors import MarchstoneError, NotFound
from app.lookups.installation import counted, is_ready

router = APIRouter()


class NotReady(MarchstoneError):
    status = 503
    title = "Not ready"


class NoToken(MarchstoneError):
    """No person can sign in for this, so nobody is led to the sign-in page."""

    status = 401
    title = "A token is needed"


@router.get("/health")
def health() -> Response:
    """The process answers; nothing else is asked, so that a slow database restarts nobody."""
    return PlainTextResponse("alive\n")


@router.get("/ready")
def ready(request: Request) -> Response:
    """The database answers and has the schema of this program: send requests here."""
    with request.app.state.database.reading() as tx:
        if not is_ready(tx):
            raise NotReady("The database has another schema than this program works with.")
    return JSONResponse({"ready": True})


@router.get("/metrics")
def metrics(request: Request) -> Response:
    """With the token of the settings; without one there is no such page."""
    _check_token(request)
    return Response(_counts(request), media_type=CONTENT_TYPE_LATEST)


def _check_token(request: Request) -> None:
    wanted = request.app.state.settings.metrics_token
    if not wanted:
        raise NotFound("There is no such page.")
    kind, _, given = request.headers.get("authorization", "").partition(" ")
    if kind.lower() != "bearer" or not hmac.compare_digest(given.encode(), wanted.encode()):
        raise NoToken("Send the token of the settings: Authorization: Bearer …")


def _counts(request: Request) -> bytes:
    with request.app.state.database.reading() as tx:
        entries, backup_at = counted(tx)
    told = [_gauge("marchstone_ledger_entries", "Of all ledgers together.", entries)]
    if backup_at is not None:
        what = "When the last backup was made."
        told.append(_gauge("marchstone_last_backup_timestamp_seconds", what, backup_at.timestamp()))
    counts: Any = generate_latest(request.app.state.counts.registry)
    return bytes(counts) + "".join(told).encode()


def _gauge(name: str, what: str, value: float) -> str:
    return f"# HELP {name} {what}\n# TYPE {name} gauge\n{name} {value}\n"
