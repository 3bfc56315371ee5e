from datetime import datetime

import pytest

from app.domain.signing import SigningTerms
from app.lookups.limits import policy_in_force
from app.lookups.revision_warnings import policy_warnings
from app.storage.database import Database
from tests.actions.test_waivers import UNSAFE, a_waiver, sign
from tests.builders import DAY, NOW, a_draft, a_person, a_revision_in_review, a_signed_revision


def test_every_revision_is_asked_and_the_newest_comes_first(database: Database) -> None:
    with database.writing() as tx:
        agency = a_person(tx).agency_id
        first = a_draft(tx).number
        sign(tx, first, SigningTerms(emergency="A fault in the field"))
        second = a_revision_in_review(tx, document=UNSAFE).number
        a_waiver(tx, second)
        sign(tx, second)

        found = policy_warnings(tx, agency_id=agency, now=datetime(2026, 9, 2, tzinfo=NOW.tzinfo))

    assert [(one.number, one.matter.value) for one in found] == [
        (second, "waiver"),
        (first, "after-review"),
    ]


@pytest.mark.parametrize(("days", "told"), [(365, 0), (366, 1)])
def test_crews_are_told_only_what_is_overdue(database: Database, days: int, told: int) -> None:
    with database.writing() as tx:
        agency = a_person(tx).agency_id
        a_signed_revision(tx)

        found = policy_in_force(tx, agency_id=agency, now=NOW + days * DAY)
        warned = policy_warnings(tx, agency_id=agency, now=NOW + days * DAY)

    assert found is not None
    assert len(found.overdue) == told
    assert len(warned) == 1
