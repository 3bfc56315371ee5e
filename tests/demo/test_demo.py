from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from shutil import copyfile

import pytest

from app.actions.people import make_setup_link
from app.actions.sign_ins import sign_in
from app.demo.people import KEY, SIGN_INS
from app.demo.profile import document
from app.demo.seeding import seed
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.errors import NotNow
from app.domain.findings import Severity
from app.domain.fleet import DeviceStatus
from app.domain.people import Role
from app.domain.profiles import Profile
from app.domain.revisions import RevisionLine
from app.domain.rules import blanks, check
from app.domain.settings_of_alarms import NoPolicy, NotFitted, On
from app.exchange.profile_json import profile_from_document
from app.lookups.agencies import agency, people_of
from app.lookups.findings import findings
from app.lookups.fleet import wall
from app.lookups.ledger import head_of, prove_ledger
from app.lookups.revisions import all_revisions
from app.storage.database import Database
from tests.builders import NOW, a_person, an_agency, quick_digest

TODAY = date(2026, 3, 2)
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def seeded(
    sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Callable[..., Database]]:
    """`seeded()`: a new database with the demo in it, begun on TODAY."""
    opened: list[Database] = []

    def made(today: date = TODAY) -> Database:
        file = tmp_path_factory.mktemp("demo") / "demo.sqlite3"
        copyfile(sqlite_template, file)
        database = Database(f"sqlite:///{file}")
        opened.append(database)
        with pytest.MonkeyPatch.context() as patch, database.writing() as tx:
            patch.setattr("app.actions.people.digest_of", quick_digest)
            assert seed(tx, today=today) is True
        return database

    yield made
    for database in opened:
        database.dispose()


@pytest.fixture(scope="module")
def demo(seeded: Callable[[], Database]) -> Database:
    return seeded()


def profile(revision: int) -> Profile:
    return profile_from_document(document(revision))


@pytest.mark.parametrize("revision", [1, 2, 3])
def test_every_alarm_of_every_category_is_stated_with_its_reason(revision: int) -> None:
    found = profile(revision)

    assert blanks(found) == []
    for category in found.categories:
        settings = found.of_category(category.key)
        assert settings.keys() == ALARM_CONDITIONS.keys()
        for setting in settings.values():
            assert not isinstance(setting, NoPolicy)
            assert setting.reason
            assert setting.source or isinstance(setting, NotFitted)
            assert not isinstance(setting, On) or setting.priority is not None


@pytest.mark.parametrize(("revision", "unsafe"), [(1, 0), (2, 0), (3, 1)])
def test_only_the_draft_has_a_silent_gap(revision: int, unsafe: int) -> None:
    found = [one for one in check(profile(revision)) if one.severity is Severity.UNSAFE]

    assert len(found) == unsafe
    assert all(one.rule == "silent-gap" and one.category == "young-child" for one in found)


def test_the_revisions_differ() -> None:
    assert len({profile(revision).fingerprint for revision in (1, 2, 3)}) == 3


def test_one_is_superseded_one_in_force_and_one_a_draft(demo: Database) -> None:
    with demo.reading() as tx:
        lines: list[RevisionLine] = all_revisions(tx, agency_id=agency(tx, key=KEY).id, now=NOON)

    assert [line.status.value for line in lines] == ["superseded", "in-force", "draft"]


def test_the_wall_has_something_of_everything(demo: Database) -> None:
    with demo.reading() as tx:
        found = wall(tx, agency_id=agency(tx, key=KEY).id, now=NOON)

    status = {one.mark.device.tag: one.status for one in found.devices}
    assert len(status) == 12
    assert {one.mark.device.model for one in found.devices} == {"dunlin", "turnstone", "petrel"}
    assert len({one.mark.device.station for one in found.devices}) == 4
    assert sum(one is DeviceStatus.HOLDS for one in status.values()) == 6
    assert {tag for tag, one in status.items() if one is DeviceStatus.UNSAFE} == {
        "boat-3",
        "road-2",
    }
    assert {tag for tag, one in status.items() if one is DeviceStatus.DIFFERS} == {
        "boat-1",
        "road-4",
    }
    assert {tag for tag, one in status.items() if one is DeviceStatus.NOT_JUDGED} == {
        "road-6",
        "spare-1",
    }


def test_the_findings_tell_their_stories(demo: Database) -> None:
    with demo.reading() as tx:
        found = findings(tx, agency_id=agency(tx, key=KEY).id, now=NOON)

    told = {(one.finding.device, one.finding.alarm): one for one in found}
    assert told["boat-3", "heart-rate-high"].finding.severity is Severity.UNSAFE
    assert told["road-2", "spo2-low"].finding.severity is Severity.UNSAFE
    assert "as signed for Junior" in (told["road-4", "heart-rate-low"].line.hint or "")
    tighter = told["boat-1", "heart-rate-high"].line.deviation
    assert tighter is not None
    assert tighter.direction.value == "tighter"


def test_the_same_day_gives_the_same_demo(demo: Database, seeded: Callable[[], Database]) -> None:
    with demo.reading() as tx:
        first = head_of(tx, agency=KEY)
    with seeded().reading() as tx:
        assert head_of(tx, agency=KEY) == first
        assert prove_ledger(tx).holds


def test_another_day_moves_it_as_a_whole(seeded: Callable[..., Database]) -> None:
    later = timedelta(days=45)
    with seeded(TODAY + later).reading() as tx:
        found = wall(tx, agency_id=agency(tx, key=KEY).id, now=NOON + later)

    assert sum(one.status is DeviceStatus.HOLDS for one in found.devices) == 6


def test_running_again_changes_nothing(demo: Database) -> None:
    with demo.reading() as tx:
        before = head_of(tx, agency=KEY)

    with demo.writing() as tx:
        assert seed(tx, today=TODAY + timedelta(days=3)) is False

    with demo.reading() as tx:
        assert head_of(tx, agency=KEY) == before


def test_every_role_has_one_person_who_can_sign_in(demo: Database) -> None:
    with demo.reading() as tx:
        people = people_of(tx, agency_id=agency(tx, key=KEY).id)
    assert sorted(role for person in people for role in person.roles) == sorted(Role)

    for one in SIGN_INS:
        with demo.writing() as tx:
            token = sign_in(
                tx,
                agency=KEY,
                username=one.username,
                password=one.password,
                now=NOON,
                address="127.0.0.1",
            )
        assert token


def test_invented_data_never_stand_beside_real_ones(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        a_person(tx, Role.ADMINISTRATOR)

    with pytest.raises(NotNow, match="real service"), sqlite_database.writing() as tx:
        seed(tx, today=TODAY)


@pytest.mark.parametrize("begun", [an_agency, lambda tx: make_setup_link(tx, now=NOW)])
def test_a_service_that_nobody_administers_yet_may_become_the_demo(
    begun: Callable[[object], object], sqlite_database: Database
) -> None:
    with sqlite_database.writing() as tx:
        begun(tx)

    with sqlite_database.writing() as tx:
        assert seed(tx, today=TODAY) is True
