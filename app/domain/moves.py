"""Does the state of a revision allow this move now? One table; it also prints the diagram."""

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from app.domain.errors import NotAllowed, NotNow
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may


class RevisionStatus(StrEnum):
    DRAFT = "draft"
    IN_REVIEW = "in-review"
    SIGNED = "signed"
    IN_FORCE = "in-force"
    SUPERSEDED = "superseded"
    WITHDRAWN = "withdrawn"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


@dataclass(frozen=True)
class Move:
    """What the move is called on a button, and the deed it takes; None: time alone moves it.

    `emergency`: only with a reason why no second person could look first, and then somebody else
    must look afterwards.
    """

    words: str
    deed: Deed | None
    note_needed: bool = False
    emergency: bool = False


_WITHDRAW = Move("withdraw", Deed.SIGN_REVISION, note_needed=True)

MOVES: dict[RevisionStatus, dict[RevisionStatus, Move]] = {
    RevisionStatus.DRAFT: {
        RevisionStatus.IN_REVIEW: Move("submit for review", Deed.SUBMIT_DRAFT),
        RevisionStatus.SIGNED: Move("sign in an emergency", Deed.SIGN_REVISION, emergency=True),
    },
    RevisionStatus.IN_REVIEW: {
        RevisionStatus.DRAFT: Move("send back", Deed.SEND_BACK, note_needed=True),
        RevisionStatus.SIGNED: Move("sign", Deed.SIGN_REVISION),
    },
    RevisionStatus.SIGNED: {
        RevisionStatus.IN_FORCE: Move("come into force", None),
        RevisionStatus.WITHDRAWN: _WITHDRAW,
    },
    RevisionStatus.IN_FORCE: {
        RevisionStatus.SUPERSEDED: Move("be superseded", None),
        RevisionStatus.WITHDRAWN: _WITHDRAW,
    },
    RevisionStatus.SUPERSEDED: {},
    RevisionStatus.WITHDRAWN: {},
}


def check_move(status: RevisionStatus, to: RevisionStatus) -> Move:
    move = MOVES[status].get(to)
    if move is None:
        raise NotNow(f"A revision that is {status.words} cannot become {to.words}.")
    if move.deed is None:
        raise NotNow(f"A revision will {move.words} when its time comes; nobody moves it by hand.")
    return move


def check_may_ever_move(person: Person, to: RevisionStatus) -> None:
    """Whoever may never make a move is told so, whatever state the revision is in."""
    moves = [held[to] for held in MOVES.values() if to in held]
    deeds = {move.deed for move in moves if move.deed is not None}
    if deeds and not any(may(person, deed) for deed in deeds):
        check_may(person, next(iter(deeds)))


def check_may_move(person: Person, move: Move) -> None:
    if move.deed is not None:
        check_may(person, move.deed)


def moves_open_to(person: Person, status: RevisionStatus) -> dict[RevisionStatus, Move]:
    """The moves that this person's pages offer now."""
    return {
        to: move
        for to, move in MOVES[status].items()
        if move.deed is not None and may(person, move.deed)
    }


def check_emergency(move: Move, reason: str) -> None:
    if move.emergency and not reason:
        raise NotNow(
            "A draft is submitted for review before it is signed. "
            "Only an emergency, with its reason, allows to sign it at once."
        )


def check_two_people(*, signer: int, authors: Collection[int], reviewer: int | None) -> None:
    """Nobody puts a policy in force that no second person has looked at."""
    if set(authors) <= {signer} and reviewer is None:
        raise NotAllowed(
            "You are the only author of this revision. "
            "Somebody else must review it before you can sign it."
        )


def check_reviewer(*, reviewer: int, authors: Collection[int]) -> None:
    if reviewer in authors:
        raise NotAllowed("You wrote part of this revision, so you cannot be its reviewer.")


def check_after_reviewer(
    *, reviewer: int, authors: Collection[int], signers: Collection[int]
) -> None:
    """What one person put in force alone is looked at by another."""
    check_reviewer(reviewer=reviewer, authors=authors)
    if reviewer in signers:
        raise NotAllowed("You signed this revision yourself, so somebody else must review it.")
