"""Which programs an agency gave tokens to, and which of them is asking."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.api_tokens import RENEWED_AFTER, ApiToken
from app.domain.people import Program
from app.storage import api_tokens


@dataclass(frozen=True)
class Asking:
    """`renew`: when it was used last should be written down again."""

    program: Program
    token_id: int
    renew: bool


def asking(tx: Session, *, token: str, now: datetime) -> Asking | None:
    found = api_tokens.live_program(tx, token=token, now=now)
    if found is None:
        return None
    program, given = found
    last = given.last_used_at
    return Asking(program, given.id, last is None or now - last >= RENEWED_AFTER)


def tokens_of(tx: Session, *, agency_id: int) -> list[ApiToken]:
    return api_tokens.tokens_of(tx, agency_id)
