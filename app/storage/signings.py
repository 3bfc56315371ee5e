"""Every signature of an agency with what it stands under, as it is stored now."""

import hashlib
from collections.abc import Iterator

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.domain.told_signings import Signing, bounds_named, revision_named
from app.storage.agencies import AgencyRow
from app.storage.documents import is_whole
from app.storage.outer_bounds import OuterBoundsRow
from app.storage.revisions import RevisionRow
from app.storage.signatures import SignatureRow


def signings(tx: Session, agency: str) -> dict[str, Signing]:
    return dict(_of_revisions(tx, agency)) | dict(_of_bounds(tx, agency))


def _of_revisions(tx: Session, agency: str) -> Iterator[tuple[str, Signing]]:
    row = SignatureRow
    wanted = (
        sa.select(
            *map(col, (RevisionRow.number, RevisionRow.document, row.fingerprint)),
            *map(col, (row.username, row.meaning)),
        )
        .join(SignatureRow, col(row.revision_id) == col(RevisionRow.id))
        .join(AgencyRow, col(AgencyRow.id) == col(RevisionRow.agency_id))
        .where(col(AgencyRow.key) == agency)
    )
    for number, document, signed, by, meaning in tx.execute(wanted):
        found = signed if is_whole(document, signed) else _digest(document)
        yield revision_named(number), Signing(found, by, meaning)


def _of_bounds(tx: Session, agency: str) -> Iterator[tuple[str, Signing]]:
    row = OuterBoundsRow
    wanted = (
        select(row.number, row.text, row.signer_username, row.meaning)
        .join(AgencyRow, col(AgencyRow.id) == col(row.agency_id))
        .where(AgencyRow.key == agency, col(row.signed_at).is_not(None))
    )
    for number, text, by, meaning in tx.exec(wanted):
        yield bounds_named(number), Signing(_digest(text), by or "", meaning or "")


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
