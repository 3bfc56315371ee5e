"""Somebody says to have seen a revision: at once, or on a phone that kept it."""

from datetime import datetime, timedelta

import pytest
from sqlmodel import Session, select

from app.actions.acknowledgements import acknowledge
from app.domain.errors import NotAllowed, Refused
from app.domain.people import Role
from app.domain.phone_clocks import PhoneClock
from app.domain.seen_revisions import Said
from app.storage.acknowledgements import AcknowledgementRow
from app.storage.database import Database
from tests.builders import DAY, HOUR, NOW, a_person, a_signed_revision
from tests.storage.ledgers import bodies

AHEAD = timedelta(hours=5)  # the phone's clock is wrong


def said(locked: datetime, sent: datetime, *, reader: str = "cruz") -> Said:
    return Said(reader, PhoneClock(locked + AHEAD, sent + AHEAD))


def say(tx: Session, what: Said | None, *, now: datetime) -> None:
    acknowledge(tx, revision=1, station="North", by=a_person(tx, Role.CREW), now=now, said=what)


def seen_at(tx: Session) -> list[datetime]:
    return [row.seen_at for row in tx.exec(select(AcknowledgementRow))]


def test_what_waited_on_a_phone_counts_from_when_it_was_said(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx, now=NOW)
        later = NOW + DAY

        say(tx, said(later - 3 * HOUR, later), now=later)
        say(tx, said(later - 3 * HOUR, later + HOUR), now=later + HOUR)

        assert seen_at(tx) == [later - 3 * HOUR]
        assert bodies(tx)[-1]["about"]["said_at"] == (later - 3 * HOUR).isoformat()


def test_nobody_has_seen_it_before_it_was_signed(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx, now=NOW)

        say(tx, said(NOW - DAY, NOW), now=NOW + HOUR)

        assert seen_at(tx) == [NOW]


def test_nobody_sends_what_somebody_else_said(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx, now=NOW)

        with pytest.raises(NotAllowed, match="This was said by tess"):
            say(tx, said(NOW, NOW, reader="tess"), now=NOW + HOUR)


def test_a_clock_that_went_back_is_refused(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx, now=NOW)

        with pytest.raises(Refused, match="went back"):
            say(tx, said(NOW + HOUR, NOW), now=NOW + HOUR)
