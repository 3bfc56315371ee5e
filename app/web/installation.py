"""The service itself, for whoever looks after it: version, last backup, head of the ledger."""

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.domain.permissions import Deed, check_may
from app.lookups.installation import Installation, installation
from app.places import program_version
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter()
_STALE = 2  # days, as the self-test has it


@dataclass(frozen=True)
class InstallationPage:
    version: str
    found: Installation
    backup_days: int | None

    @property
    def mib(self) -> str:
        return f"{self.found.database_bytes / 2**20:.1f}"

    @property
    def backup_is_old(self) -> bool:
        return self.backup_days is None or self.backup_days >= _STALE


@router.get("/{agency}/installation")
def page(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    prove: bool = False,  # noqa: FBT001, FBT002 - a query
) -> Response:
    check_may(person, Deed.SEE_INSTALLATION)
    found = installation(tx, agency=person.agency, prove=prove)
    days = None if found.last_backup_at is None else (now - found.last_backup_at).days
    return render(request, "installation.html", InstallationPage(program_version(), found, days))
