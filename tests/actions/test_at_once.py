"""Two people doing the same thing at the same moment, each in a transaction of their own."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from threading import Barrier

from sqlmodel import Session, func, select

from app.actions.people import first_administrator, make_setup_link
from app.actions.report_files import Taken, read_file, take_file
from app.actions.reports import record_report
from app.actions.revisions import edit_draft, start_draft
from app.domain.agencies import NewAgency
from app.domain.errors import Conflict, MarchstoneError, NotAllowed
from app.domain.people import Role
from app.lookups.ledger import prove_ledger
from app.storage.database import Database
from app.storage.finding_rows import FindingRow
from app.storage.reports import ReportRow
from tests.actions.test_readings import begun, look, ready
from tests.builders import (
    MINUTE,
    NOW,
    PASSWORD,
    a_device,
    a_document,
    a_draft,
    a_new_report,
    a_person,
    a_signed_revision,
    as_signed,
    limit,
)
from tests.reading_files import a_whole_file


def at_once(database: Database, *deeds: Callable[[Session], object]) -> list[object]:
    """What each gave, a refusal included."""
    together = Barrier(len(deeds))

    def do(deed: Callable[[Session], object]) -> object:
        together.wait()
        try:
            with database.writing() as tx:
                return deed(tx)
        except MarchstoneError as refusal:
            return refusal

    with ThreadPoolExecutor(len(deeds)) as threads:
        return list(threads.map(do, deeds))


def test_of_two_who_edit_a_draft_one_is_told(database: Database) -> None:
    with database.writing() as tx:
        draft = a_draft(tx)
        anna, dana = a_person(tx, Role.AUTHOR), a_person(tx)

    results = at_once(
        database,
        *(
            lambda tx, by=by, high=high: edit_draft(
                tx,
                number=draft.number,
                document=a_document({"heart-rate-high": high}),
                edit_version=1,
                by=by,
                now=NOW,
            )
            for by, high in ((anna, 160), (dana, 165))
        ),
    )

    assert sum(isinstance(result, Conflict) for result in results) == 1


def test_two_who_start_a_draft_get_two_numbers(database: Database) -> None:
    with database.writing() as tx:
        anna, dana = a_person(tx, Role.AUTHOR), a_person(tx)

    results = at_once(
        database,
        *(
            lambda tx, by=by: start_draft(tx, document=a_document(), by=by, now=NOW).number
            for by in (anna, dana)
        ),
    )

    assert sorted(map(str, results)) == ["1", "2"]


def test_a_report_sent_twice_at_once_is_one_report(database: Database) -> None:
    report = a_new_report(as_signed(heart_rate_high=limit(200)))
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        femi = a_person(tx, Role.FLEET_MANAGER)

    first, second = at_once(
        database, *[lambda tx: record_report(tx, report=report, by=femi, now=NOW)] * 2
    )

    assert first == second
    with database.reading() as tx:
        for table in (ReportRow, FindingRow):
            assert tx.exec(select(func.count()).select_from(table)).one() == 1
        assert prove_ledger(tx).holds


def test_a_look_tapped_twice_is_locked_once(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        session = begun(tx)

    first, second = at_once(database, *[lambda tx: look(tx, session)] * 2)

    assert first == second
    with database.reading() as tx:
        assert tx.exec(select(func.count()).select_from(ReportRow)).one() == 1
        assert prove_ledger(tx).holds


def test_of_two_who_make_the_second_look_one_is_told(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        session = look(tx, begun(tx), {"heart-rate-high": limit(200)})

    results = at_once(
        database,
        *(
            lambda tx, by=by: look(tx, session, by=by, now=NOW + MINUTE)
            for by in (Role.TECHNICIAN, Role.CREW)
        ),
    )

    assert sum(isinstance(result, Conflict) for result in results) == 1
    with database.reading() as tx:
        assert tx.exec(select(func.count()).select_from(ReportRow)).one() == 2


def test_a_setup_link_makes_one_administrator(database: Database) -> None:
    with database.writing() as tx:
        token = make_setup_link(tx, now=NOW)

    results = at_once(
        database,
        *(
            lambda tx, key=key: first_administrator(
                tx,
                token=token,
                agency=NewAgency(key, "Skerry", "Europe/London"),
                username="ada",
                name="Ada",
                password=PASSWORD,
                now=NOW,
            )
            for key in ("one", "two")
        ),
    )

    assert sum(isinstance(result, NotAllowed) for result in results) == 1


def test_of_two_who_take_in_the_same_file_one_stores_it(database: Database) -> None:
    content = a_whole_file(as_signed(heart_rate_high=limit(200)))
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        people = [a_person(tx, role) for role in (Role.FLEET_MANAGER, Role.TECHNICIAN)]
    with database.reading() as tx:  # both have looked at it before either takes it
        read = {by: read_file(tx, content=BytesIO(content), by=by, now=NOW) for by in people}

    results = at_once(
        database,
        *(
            lambda tx, by=by: take_file(tx, content=BytesIO(content), by=by, now=NOW, read=read[by])
            for by in people
        ),
    )

    assert sorted((one.new, one.known) for one in results if isinstance(one, Taken)) == [
        (0, 1),
        (1, 0),
    ]
    with database.reading() as tx:
        assert tx.exec(select(func.count()).select_from(ReportRow)).one() == 1
        assert tx.exec(select(func.count()).select_from(FindingRow)).one() == 1
