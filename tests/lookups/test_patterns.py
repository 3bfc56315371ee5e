import pytest
from sqlmodel import Session

from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    FoundText,
    Reading,
)
from app.domain.settings_of_alarms import Priority
from app.lookups.patterns import answer_words, patterns_now
from app.storage.database import Database
from tests.builders import (
    a_device,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)

STRAYED = as_signed(heart_rate_high=limit(200))


def a_fleet(tx: Session, strayed: int, others: int) -> None:
    """Software 3.2 on those that strayed, 3.1 on the others."""
    a_signed_revision(tx)
    for number in range(strayed + others):
        tag, off = f"d-{number:02}", number < strayed
        a_device(tx, tag)
        a_report(tx, STRAYED if off else None, device=tag, software="3.2" if off else "3.1")


def test_one_software_explains_it(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx, 5, 12)
        page = patterns_now(tx, agency_id=a_person(tx).agency_id)

    assert (page.judged, page.deviating, page.fleet) == (17, 5, 17)
    [found] = page.found
    assert (found.attribute, found.value) == ("software", "3.2")
    assert (found.question, found.answer) == ("heart-rate-high", "at 200 /min")
    assert found.complete


def test_another_agency_shows_nothing(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx, 5, 12)

        assert patterns_now(tx, agency_id=olu(tx).agency_id).judged == 0


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (FoundOff(), "off"),
        (FoundNotFitted(), "not fitted"),
        (CouldNotRead("glare"), "could not read"),
        (FoundText("adult"), "adult"),
        (FoundOn(), "on"),
        (limit(200), "at 200"),
        (FoundOn(limit(4).limit, unit="kPa"), "at 4 kPa"),
        (FoundOn(priority=Priority.LOW, latching=False), "on, low priority, not latching"),
        (FoundOn(delay_s=limit(20).limit, latching=True), "on, delay 20 s, latching"),
    ],
)
def test_an_answer_in_words(found: Reading, words: str) -> None:
    assert answer_words(found) == words


def test_a_number_is_told_in_the_unit_that_its_device_shows() -> None:
    limit_of = FoundOn(limit(4).limit)

    assert answer_words(limit_of, "kPa") == "at 4 kPa"
    assert answer_words(FoundOn(limit_of.limit, unit="mm[Hg]"), "kPa") == "at 4 mmHg"
