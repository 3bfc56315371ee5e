"""How every editor of a draft saves, and what it answers when it cannot."""

from fastapi import Request

from app.actions.revisions import edit_draft
from app.domain.documents import Document
from app.domain.errors import Fault, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import StoredRevision
from app.lookups.policy import OpenRevision, open_revision
from app.web.transactions import Now


def to_edit(request: Request, person: Person, number: int, now: Now) -> OpenRevision:
    """The newest version, for whoever may edit drafts at all."""
    check_may(person, Deed.EDIT_DRAFT)
    with request.app.state.database.reading() as tx:
        return open_revision(tx, agency_id=person.agency_id, number=number, now=now)


def save_draft(
    request: Request,
    person: Person,
    now: Now,
    *,
    number: int,
    document: Document,
    edit_version: int,
) -> StoredRevision:
    """Raises Refused where the document is no policy, Conflict where somebody saved meanwhile."""
    with request.app.state.database.writing() as tx:
        return edit_draft(
            tx, number=number, document=document, edit_version=edit_version, by=person, now=now
        )


def at_fields(refused: Refused, names: dict[str, str] | None = None) -> tuple[Fault, ...]:
    """Faults of the document, told at the field that wrote that part; `names` by last part."""
    told = []
    for fault in refused.faults:
        steps = [step for step in str(fault.column or "").split(" / ") if not step.isdigit()]
        last = steps[-1] if steps else ""
        told.append(Fault(fault.reason, column=(names or {}).get(last, last) or None))
    return tuple(told)
