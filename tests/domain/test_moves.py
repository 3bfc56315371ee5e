import pytest

from app.domain.errors import NotAllowed, NotNow
from app.domain.moves import (
    MOVES,
    RevisionStatus,
    check_after_reviewer,
    check_emergency,
    check_may_ever_move,
    check_may_move,
    check_move,
    check_reviewer,
    check_two_people,
    moves_open_to,
)
from app.domain.people import Person, Role

ANNA, RAVI, DANA = 1, 2, 3
LEGAL = {
    ("draft", "in-review"),
    ("draft", "signed"),
    ("in-review", "draft"),
    ("in-review", "signed"),
    ("signed", "withdrawn"),
    ("in-force", "withdrawn"),
}
BY_TIME = {("signed", "in-force"), ("in-force", "superseded")}


def person(role: Role) -> Person:
    return Person(1, 1, "skerry", "somebody", "Somebody", frozenset({role}))


@pytest.mark.parametrize("to", RevisionStatus)
@pytest.mark.parametrize("status", RevisionStatus)
def test_only_the_moves_of_the_table_are_allowed(
    status: RevisionStatus, to: RevisionStatus
) -> None:
    if (status.value, to.value) in LEGAL:
        assert check_move(status, to) is MOVES[status][to]
    else:
        with pytest.raises(NotNow):
            check_move(status, to)


def test_moves_of_the_clock_are_told_as_such() -> None:
    found = {
        (status.value, to.value)
        for status, moves in MOVES.items()
        for to, move in moves.items()
        if move.deed is None
    }

    assert found == BY_TIME
    with pytest.raises(NotNow, match="when its time comes"):
        check_move(RevisionStatus.SIGNED, RevisionStatus.IN_FORCE)


def test_every_status_has_its_row() -> None:
    assert set(MOVES) == set(RevisionStatus)


@pytest.mark.parametrize(
    ("role", "status", "to", "allowed"),
    [
        (Role.AUTHOR, "draft", "in-review", True),
        (Role.MEDICAL_DIRECTOR, "draft", "in-review", True),
        (Role.REVIEWER, "draft", "in-review", False),
        (Role.MEDICAL_DIRECTOR, "draft", "signed", True),
        (Role.AUTHOR, "draft", "signed", False),
        (Role.REVIEWER, "in-review", "draft", True),
        (Role.AUTHOR, "in-review", "draft", False),
        (Role.MEDICAL_DIRECTOR, "in-review", "signed", True),
        (Role.REVIEWER, "in-review", "signed", False),
        (Role.ADMINISTRATOR, "in-review", "signed", False),
        (Role.MEDICAL_DIRECTOR, "in-force", "withdrawn", True),
        (Role.FLEET_MANAGER, "in-force", "withdrawn", False),
        (Role.CREW, "draft", "in-review", False),
    ],
)
def test_who_may_move(role: Role, status: str, to: str, allowed: bool) -> None:
    move = check_move(RevisionStatus(status), RevisionStatus(to))

    assert (RevisionStatus(to) in moves_open_to(person(role), RevisionStatus(status))) is allowed
    if allowed:
        check_may_move(person(role), move)
    else:
        with pytest.raises(NotAllowed):
            check_may_move(person(role), move)


@pytest.mark.parametrize(
    ("role", "to", "ever"),
    [
        (Role.AUTHOR, "draft", False),
        (Role.REVIEWER, "draft", True),
        (Role.MEDICAL_DIRECTOR, "draft", True),
        (Role.AUTHOR, "withdrawn", False),
        (Role.MEDICAL_DIRECTOR, "withdrawn", True),
        (Role.CREW, "in-review", False),
        (Role.AUTHOR, "in-review", True),
        (Role.REVIEWER, "signed", False),
        (Role.CREW, "in-force", True),  # nobody moves it, so it is the state that forbids
    ],
)
def test_who_may_never_make_a_move_is_told_before_the_state_is_asked(
    role: Role, to: str, ever: bool
) -> None:
    if ever:
        check_may_ever_move(person(role), RevisionStatus(to))
    else:
        with pytest.raises(NotAllowed):
            check_may_ever_move(person(role), RevisionStatus(to))


@pytest.mark.parametrize(
    ("authors", "reviewer", "allowed"),
    [
        ({DANA}, None, False),
        ({DANA}, RAVI, True),
        ({ANNA}, None, True),
        ({ANNA, DANA}, None, True),
        (set(), None, False),
    ],
)
def test_nobody_signs_alone_what_they_wrote_alone(
    authors: set[int],
    reviewer: int | None,
    allowed: bool,
) -> None:
    if allowed:
        check_two_people(signer=DANA, authors=authors, reviewer=reviewer)
    else:
        with pytest.raises(NotAllowed, match="review"):
            check_two_people(signer=DANA, authors=authors, reviewer=reviewer)


def test_an_author_cannot_review() -> None:
    check_reviewer(reviewer=RAVI, authors={ANNA})

    with pytest.raises(NotAllowed):
        check_reviewer(reviewer=ANNA, authors={ANNA, DANA})


@pytest.mark.parametrize(
    ("status", "reason", "allowed"),
    [
        ("draft", "", False),
        ("draft", "a fault in the field", True),
        ("in-review", "", True),
        ("in-review", "a fault in the field", True),
    ],
)
def test_only_an_emergency_skips_the_review(status: str, reason: str, allowed: bool) -> None:
    move = check_move(RevisionStatus(status), RevisionStatus.SIGNED)

    if allowed:
        check_emergency(move, reason)
    else:
        with pytest.raises(NotNow, match="emergency"):
            check_emergency(move, reason)


@pytest.mark.parametrize(("reviewer", "allowed"), [(RAVI, True), (ANNA, False), (DANA, False)])
def test_who_wrote_or_signed_it_is_no_second_pair_of_eyes(reviewer: int, allowed: bool) -> None:
    if allowed:
        check_after_reviewer(reviewer=reviewer, authors={ANNA}, signers={DANA})
    else:
        with pytest.raises(NotAllowed):
            check_after_reviewer(reviewer=reviewer, authors={ANNA}, signers={DANA})
