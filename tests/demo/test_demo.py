from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from shutil import copyfile

import pytest

from app.actions.people import make_setup_link
from app.actions.sign_ins import sign_in
from app.demo.people import KEY, SIGN_INS
from app.demo.profile import document
from app.demo.seeding import seed
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.by_hand import by_hand_on
from app.domain.comparison import Direction, compare_preset
from app.domain.device_reports import FoundOn
from app.domain.errors import NotNow
from app.domain.finding_life import FindingStatus
from app.domain.findings import Severity
from app.domain.known_devices import DeviceStatus
from app.domain.option_judgement import ANY_PRESET
from app.domain.options import OPTIONS
from app.domain.people import Role
from app.domain.profiles import Profile
from app.domain.rendering import rendered_presets
from app.domain.revisions import RevisionLine
from app.domain.rules import blanks, check
from app.domain.settings_of_alarms import NoPolicy, NotFitted, On
from app.exchange.profile_json import profile_from_document
from app.lookups.agencies import agency, people_of
from app.lookups.findings import FindingPage, findings
from app.lookups.fleet import device, wall
from app.lookups.ledger import head_of, prove_ledger
from app.lookups.policy import open_revision
from app.lookups.readings import reading_quality, wanted_looks
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


@pytest.mark.parametrize("revision", [1, 2])
def test_what_was_signed_has_notes_and_nothing_worse(revision: int) -> None:
    found = check(profile(revision))

    assert {one.severity for one in found} == {Severity.NOTE}
    assert len(found) <= 10


def test_the_draft_has_one_unsafe_silent_gap() -> None:
    (found,) = [one for one in check(profile(3)) if one.severity is not Severity.NOTE]

    assert (found.rule, found.category) == ("silent-gap", "young-child")
    assert "rise to 185 /min unannounced" in found.message


def test_every_circumstance_and_option_says_why() -> None:
    found = profile(2)

    assert {one.key: one.applies_to for one in found.circumstances} == {
        "on-oxygen": ("neonate",),
        "hypercapnia-risk": ("adult",),
        "brain-injury": ("adult",),
        "cardiac-arrest": ("young-child", "child", "adult"),
    }
    for circumstance in found.circumstances:
        for setting in circumstance.settings.values():
            assert isinstance(setting, On)
            assert setting.reason
            assert setting.source
    assert found.options.keys() == OPTIONS.keys()
    assert all(option.reason and option.source for option in found.options.values())


def test_three_models_differ_in_presets_steps_and_units() -> None:
    models = profile(2).models

    assert {key: len(one.presets) for key, one in models.items()} == {
        "dunlin": 5,
        "turnstone": 5,
        "petrel": 3,
    }
    assert [one.grid["heart-rate-low"].step for one in models.values()] == [1, 5, 2]
    assert [one.etco2_unit for one in models.values()] == ["mm[Hg]", "kPa", "mm[Hg]"]


def test_three_presets_serve_five_categories_and_the_rest_is_set_by_hand() -> None:
    found = {one.category.key: one for one in by_hand_on(profile(2), "petrel")}

    assert {key: one.preset for key, one in found.items()} == {
        "neonate": "SMALL",
        "infant": "SMALL",
        "young-child": "SMALL",
        "child": "MIDDLE",
        "adult": "LARGE",
    }
    assert [key for key, one in found.items() if one.by_hand] == ["neonate", "young-child"]
    assert all(one.settable for told in found.values() for one in told.by_hand)


def test_the_revisions_differ() -> None:
    assert len({profile(revision).fingerprint for revision in (1, 2, 3)}) == 3


def test_one_is_superseded_one_in_force_and_one_a_draft(demo: Database) -> None:
    with demo.reading() as tx:
        lines: list[RevisionLine] = all_revisions(tx, agency_id=agency(tx, key=KEY).id, now=NOON)

    assert [line.status.value for line in lines] == ["superseded", "in-force", "draft"]


def test_a_reviewer_asked_about_a_cell_of_the_draft(demo: Database) -> None:
    with demo.reading() as tx:
        found = open_revision(tx, agency_id=agency(tx, key=KEY).id, number=3, now=NOON)

    (said,) = found.comments
    assert (said.category, said.alarm) == ("child", "respiratory-rate-low")
    assert said.resolution is None


def test_the_wall_has_something_of_everything(demo: Database) -> None:
    with demo.reading() as tx:
        found = wall(tx, agency_id=agency(tx, key=KEY).id, now=NOON)

    devices = [one.mark.device for one in found.devices]
    assert len(devices) == 46
    assert Counter(one.model for one in devices) == {"dunlin": 18, "turnstone": 8, "petrel": 20}
    assert Counter(one.station for one in devices) == {
        "Hollavoe": 14,
        "Skarra": 12,
        "Brenna Harbour": 10,
        "Tern Field": 10,
    }
    tags: dict[DeviceStatus, set[str]] = {status: set() for status in DeviceStatus}
    for one in found.devices:
        tags[one.status].add(one.mark.device.tag)
    assert len(tags[DeviceStatus.HOLDS]) == 30
    assert tags[DeviceStatus.UNSAFE] == {"road-2", "road-4"}
    assert tags[DeviceStatus.DIFFERS] == {
        *("boat-1", "boat-8", "road-11", "road-14", "road-15"),
        *(f"road-{number}" for number in range(16, 21)),
    }
    assert tags[DeviceStatus.NOT_JUDGED] == {"air-7", "boat-6", "road-6", "spare-5"}


@pytest.fixture(scope="module")
def told(demo: Database) -> dict[tuple[str, str], FindingPage]:
    """Every finding, by device and alarm; a device that strays on several presets is told once."""
    with demo.reading() as tx:
        number = agency(tx, key=KEY).id
        found = findings(tx, agency_id=number, now=NOON, statuses=tuple(FindingStatus))
    return {(one.finding.device, one.finding.alarm): one for one in found}


Told = dict[tuple[str, str], FindingPage]


@pytest.mark.parametrize(
    ("device", "alarm", "direction", "severity"),
    [
        ("road-2", "spo2-low", Direction.SWITCHED_OFF, Severity.UNSAFE),
        ("road-4", "heart-rate-high", Direction.LOOSER, Severity.UNSAFE),
        ("boat-1", "heart-rate-high", Direction.TIGHTER, Severity.OFF_PROTOCOL),
        ("boat-3", "heart-rate-high", Direction.LOOSER, Severity.UNSAFE),
        ("boat-8", "spo2-low", Direction.TIGHTER, Severity.OFF_PROTOCOL),
        ("road-9", "heart-rate-high", Direction.LOOSER, Severity.OFF_PROTOCOL),
    ],
)
def test_the_findings_tell_their_stories(
    told: Told, device: str, alarm: str, direction: Direction, severity: Severity
) -> None:
    found = told[device, alarm].finding

    assert (found.direction, found.severity) == (direction, severity)


@pytest.mark.parametrize(
    ("device", "alarm", "hint"),
    [
        ("road-4", "heart-rate-low", "as signed for SMALL CHILD"),
        ("road-15", "heart-rate-low", "as signed for Junior"),
        ("road-14", "etco2-high", "kPa and mmHg may have been confused"),
        ("road-9", "heart-rate-high", "a ten-fold slip"),
        ("road-11", "respiratory-rate-high", "the digits of the signed value, swapped"),
    ],
)
def test_what_a_finding_may_have_come_from_is_hinted(
    told: Told, device: str, alarm: str, hint: str
) -> None:
    assert hint in (told[device, alarm].line.hint or "")


def test_every_device_with_the_new_software_holds_an_old_limit(told: Told) -> None:
    updated = [one for one in told.values() if one.latest.report.software == "2.1.0"]

    assert {one.finding.device for one in updated} == {f"road-{n}" for n in range(16, 21)}
    assert {one.finding.alarm for one in updated} == {"etco2-low"}
    assert {one.line.found for one in updated} == {FoundOn(Decimal("2.7"))}  # kPa, 20 mmHg


def test_findings_stand_at_every_point_of_their_lives(told: Told) -> None:
    assert {one.finding.status for one in told.values()} == set(FindingStatus)
    closed = {
        device for (device, _), one in told.items() if one.finding.status is FindingStatus.CLOSED
    }
    assert closed == {"boat-3", "air-3"}


def test_the_one_device_that_the_changeover_missed_holds_revision_one(demo: Database) -> None:
    signed = rendered_presets(profile(1), "petrel")
    with demo.reading() as tx:
        found = device(tx, agency_id=agency(tx, key=KEY).id, tag="boat-8", now=NOON)

    for one in found.presets:
        assert one.latest is not None
        assert one.latest.report.revision == 2
        if one.preset == ANY_PRESET:
            continue
        readings = one.latest.report.readings
        assert compare_preset(signed[one.preset], readings) == []
    assert {one.severity for one in found.findings} == {Severity.OFF_PROTOCOL}


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

    assert sum(one.status is DeviceStatus.HOLDS for one in found.devices) == 30


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


def test_some_readings_were_looked_at_again_and_one_still_waits(demo: Database) -> None:
    with demo.reading() as tx:
        number = agency(tx, key=KEY).id
        quality = reading_quality(tx, agency_id=number, since=NOON - timedelta(days=90))
        waiting = wanted_looks(tx, agency_id=number, now=NOON)

    assert (quality.confirmed.found, quality.confirmed.of) == (3, 6)
    assert (quality.disagreed.found, quality.disagreed.of) == (3, 16)
    assert [one.device for one in waiting] == ["boat-6"]
