from typing import Any

import pytest
from sqlmodel import Session

from app.actions.cards import collect_cards, print_cards
from app.domain.errors import NotAllowed, NotFound, NotNow, Refused
from app.domain.people import Role
from app.domain.pocket_cards import CardSize, PrintedCards
from app.lookups.cards import CardsPage, cards
from app.storage.database import Database
from tests.builders import DAY, NOW, a_draft, a_person, a_signed_revision, olu
from tests.storage.ledgers import bodies


def a_print(tx: Session, *, role: Role = Role.EDUCATOR, **instead: Any) -> PrintedCards:
    wanted: dict[str, Any] = {
        "revision": 1,
        "size": CardSize.A6,
        "model": "",
        "copies": 12,
        "place": "Harbour station",
        "now": NOW,
    }
    return print_cards(tx, **(wanted | instead), by=a_person(tx, role))


def listed(tx: Session, *, later: int = 0) -> CardsPage:
    return cards(tx, agency_id=a_person(tx).agency_id, now=NOW + later * DAY)


def test_a_print_run_is_on_the_list_and_in_the_ledger(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        printed = a_print(tx)

        assert listed(tx).others == (printed,)
        assert bodies(tx)[-1]["about"]["place"] == "Harbour station"


def test_a_new_revision_calls_back_the_cards_of_the_old_one(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        printed = a_print(tx)
        a_signed_revision(tx, in_force_at=NOW + DAY)
        before, after = listed(tx), listed(tx, later=1)

    assert (before.recall, before.others) == ((), (printed,))
    assert (after.recall, after.others) == ((printed,), ())


def test_cards_printed_ahead_are_not_called_back(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_signed_revision(tx, in_force_at=NOW + DAY)
        a_print(tx, revision=2)

        assert listed(tx).recall == ()


def test_collected_cards_leave_the_recall_list(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_print(tx)
        a_signed_revision(tx, in_force_at=NOW + DAY)
        edda = a_person(tx, Role.EDUCATOR)
        collect_cards(tx, number=1, note="shredded", by=edda, now=NOW + DAY)
        page = listed(tx, later=1)

        with pytest.raises(NotNow, match="collected already"):
            collect_cards(tx, number=1, note="again", by=edda, now=NOW + DAY)

    assert page.recall == ()
    assert [one.collected_note for one in page.others] == ["shredded"]


def test_a_draft_is_not_printed(database: Database) -> None:
    with database.writing() as tx:
        a_draft(tx)
        with pytest.raises(NotNow, match="only of a revision that is signed"):
            a_print(tx)


@pytest.mark.parametrize(
    ("field", "value"), [("copies", 0), ("copies", 1001), ("place", " "), ("model", "unheard-of")]
)
def test_what_cannot_be_printed_is_told_at_its_field(
    database: Database, field: str, value: Any
) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        with pytest.raises(Refused) as refused:
            a_print(tx, **{field: value})

    assert [fault.column for fault in refused.value.faults] == [field]


def test_crew_print_none(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        with pytest.raises(NotAllowed):
            a_print(tx, role=Role.CREW)


def test_another_agency_cannot_collect_them(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_print(tx)
        with pytest.raises(NotFound):
            collect_cards(tx, number=1, note="mine", by=olu(tx), now=NOW)
