from datetime import timedelta

import pytest
from sqlmodel import Session

from app.domain.documents import with_setting
from app.domain.errors import NotFound
from app.lookups import redlines
from app.lookups.redlines import AskedComparison, ComparedRevisions, compared_revisions
from app.storage import devices
from app.storage.database import Database
from tests.builders import (
    DAY,
    NOW,
    a_device,
    a_document,
    a_draft,
    a_person,
    a_signed_revision,
)
from tests.storage.statements import counted


def ask(
    tx: Session, number: int, against: int | None = None, later: timedelta = DAY
) -> AskedComparison:
    return compared_revisions(
        tx,
        agency_id=a_person(tx).agency_id,
        number=number,
        against=against,
        now=NOW + later,
    )


def compared(tx: Session, number: int, against: int | None = None) -> ComparedRevisions:
    found = ask(tx, number, against).compared
    assert found is not None
    return found


def looser(limit: int) -> dict[str, object]:
    return a_document({"heart-rate-high": limit})


def test_a_draft_is_compared_with_what_is_in_force(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_draft(tx)
        a_draft(tx, document=looser(185))

        found = compared(tx, 3)

    assert (found.before.number, found.after.number) == (1, 3)
    assert [change.sentence for change in found.redline.changes] == [
        "1 y to 5 y: Heart rate can rise from 170 to 185 /min unannounced."
    ]


@pytest.mark.parametrize(("number", "against"), [(1, None), (2, 1), (3, 2)])
def test_what_is_or_was_in_force_is_compared_with_what_was_before_it(
    database: Database, number: int, against: int | None
) -> None:
    with database.writing() as tx:
        for limit in (170, 171, 172):
            a_signed_revision(tx, document=looser(limit))

        found = ask(tx, number)

    assert (found.compared and found.compared.before.number) == against
    assert len(found.others) == 2


def test_a_revision_signed_for_later_is_compared_with_what_is_in_force(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_signed_revision(tx, document=looser(171), in_force_at=NOW + 5 * DAY)

        assert compared(tx, 2).before.number == 1


def test_any_other_can_be_chosen_and_it_itself(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_draft(tx, document=looser(185))

        assert compared(tx, 1, against=2).redline.changes[0].direction == "tighter"
        assert compared(tx, 2, against=2).redline.empty


def test_what_does_not_exist_is_not_found(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)

        with pytest.raises(NotFound):
            ask(tx, 2)
        with pytest.raises(NotFound):
            ask(tx, 1, against=9)


def test_devices_that_must_be_set_again_are_told_by_model_and_station(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        for tag in ("boat-3", "air-1"):
            a_device(tx, tag)
        a_device(tx, "van-1", model="petrel")
        a_draft(tx, document=looser(171))

        found = compared(tx, 2)

    assert (found.to_set, found.stay) == (3, 0)
    assert [(one.effect.model, one.count) for one in found.models] == [("dunlin", 2), ("petrel", 1)]
    (north,) = found.models[0].stations
    assert (north.station, north.count, north.tags) == ("North", 2, ("air-1", "boat-3"))


def test_devices_of_another_agency_do_not_count(database: Database) -> None:
    with database.writing() as tx:
        a_device(tx)
        a_signed_revision(tx)
        elsewhere = a_person(tx, agency="elsewhere", name="Else")

        assert devices.count_by_place(tx, elsewhere.agency_id) == {}
        assert devices.devices_of_models(tx, elsewhere.agency_id, ["dunlin"]) == []


@pytest.mark.parametrize(("most", "listed"), [(2, 2), (1, 0)])
def test_too_many_devices_are_counted_and_not_listed(
    database: Database, monkeypatch: pytest.MonkeyPatch, most: int, listed: int
) -> None:
    monkeypatch.setattr(redlines, "MOST_TAGS", most)
    with database.writing() as tx:
        a_signed_revision(tx)
        for tag in ("boat-3", "air-1"):
            a_device(tx, tag)
        a_draft(tx, document=looser(171))

        (north,) = compared(tx, 2).models[0].stations

    assert (north.count, len(north.tags)) == (2, listed)


def test_nothing_is_void_where_only_words_change(database: Database) -> None:
    document = a_document()
    setting = document["settings"]["preschool"]["heart-rate-high"] | {"reason": "read again"}
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        a_draft(tx, document=with_setting(document, "preschool", "heart-rate-high", setting))

        found = compared(tx, 2)

    assert (found.to_set, found.stay, found.cards, found.effects) == (0, 1, (), ())
    assert found.redline.in_words == "1 words only"


def test_it_costs_the_same_however_large_the_fleet(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx, "boat-1")
        a_draft(tx, document=looser(171))
        compared(tx, 2)
        with counted(database) as few:
            compared(tx, 2)
        for number in range(20):
            a_device(tx, f"van-{number}", model=f"model-{number}")
        with counted(database) as many:
            compared(tx, 2)

    assert len(many) == len(few)
