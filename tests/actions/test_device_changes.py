from datetime import date
from typing import Any

import pytest
from sqlmodel import Session

from app.actions import device_changes as actions
from app.actions.draws import draw_devices
from app.domain.device_changes import ChangeKind
from app.domain.devices import Loan, RegisterStatus
from app.domain.draws import Strata
from app.domain.errors import NotAllowed, NotFound, NotNow, Refused
from app.domain.people import Role
from app.domain.sampling import parse_share
from app.lookups.fleet import wall
from app.lookups.register import device_on_register
from app.storage.database import Database
from app.storage.device_changes import changes_of
from tests.actions.test_readings import begun, ready
from tests.builders import DAY, NOW, a_device, a_person, olu
from tests.storage.ledgers import bodies

LOAN = Loan("Tern Air", date(2026, 3, 1))
FORMS: dict[str, tuple[Any, dict[str, Any]]] = {
    "move": (actions.move_device, {"station": "South", "vehicle": ""}),
    "software": (actions.change_software, {"software": "3.2"}),
    "away": (actions.send_to_service, {}),
    "loan": (actions.change_loan, {"loan": LOAN}),
    "use": (actions.use_device_as, {"spare": True}),
    "retire": (actions.retire_device, {}),
    "correct": (actions.correct_device, {"serial": "S-1", "remark": ""}),
}
KEEPERS = {"loan", "retire", "correct"}


def change(tx: Session, form: str, role: Role = Role.FLEET_MANAGER, **instead: Any) -> None:
    verb, wanted = FORMS[form]
    told = {"tag": "boat-3", "why": "asked for", "by": a_person(tx, role), "now": NOW + DAY}
    verb(tx, **(wanted | told | instead))


@pytest.mark.parametrize(
    ("form", "kind", "changes"),
    [
        ("move", ChangeKind.MOVED, {"station": ("North", "South")}),
        ("software", ChangeKind.SOFTWARE, {"software": ("", "3.2")}),
        ("away", ChangeKind.SENT_AWAY, {"status": ("in-service", "away-for-service")}),
        (
            "loan",
            ChangeKind.BORROWED,
            {"owner": ("", "Tern Air"), "loan_from": ("", "2026-03-01")},
        ),
        ("use", ChangeKind.MADE_SPARE, {"status": ("in-service", "spare")}),
        ("retire", ChangeKind.RETIRED, {"status": ("in-service", "retired")}),
        ("correct", ChangeKind.CORRECTED, {"serial": ("", "S-1")}),
    ],
)
def test_every_change_is_kept_and_told_to_the_ledger(
    database: Database, form: str, kind: ChangeKind, changes: dict[str, tuple[str, str]]
) -> None:
    with database.writing() as tx:
        device = a_device(tx)
        change(tx, form)

        latest, first = changes_of(tx, device.id)
        assert (latest.kind, latest.changes, latest.why) == (kind, changes, "asked for")
        assert (latest.at, latest.by) == (NOW + DAY, "Femi")
        assert first.kind is ChangeKind.ADDED
        told = bodies(tx)[-1]
        assert told["did"] == "change a device"
        assert told["about"]["did"] == kind.value
        assert all(told["about"][name] == list(pair) for name, pair in changes.items())


@pytest.mark.parametrize("form", ["move", "use", "correct"])
def test_what_changes_nothing_leaves_no_trace(database: Database, form: str) -> None:
    same: dict[str, dict[str, Any]] = {
        "move": {"station": "North"},
        "use": {"spare": False},
        "correct": {"serial": ""},
    }
    with database.writing() as tx:
        device = a_device(tx)
        change(tx, form, **same[form])

        assert len(changes_of(tx, device.id)) == 1
        assert bodies(tx)[-1]["did"] == "add a device"


def test_back_from_service_it_tells_who_did_the_work(database: Database) -> None:
    with database.writing() as tx:
        device, tess = a_device(tx), a_person(tx, Role.TECHNICIAN)
        change(tx, "away")
        back = actions.take_back_from_service(
            tx,
            tag="boat-3",
            software="3.2",
            worker=tess.username,
            spare=False,
            why="new battery",
            by=a_person(tx, Role.FLEET_MANAGER),
            now=NOW + 2 * DAY,
        )

        latest = changes_of(tx, device.id)[0]
        assert (back.software, back.status) == ("3.2", RegisterStatus.IN_SERVICE)
        assert (latest.kind, latest.by, latest.worker) == (ChangeKind.CAME_BACK, "Femi", "Tess")


def test_nobody_of_another_agency_did_the_work(database: Database) -> None:
    with database.writing() as tx:
        a_device(tx)
        change(tx, "away")
        stranger = olu(tx)

        with pytest.raises(Refused, match="nobody here"):
            actions.take_back_from_service(
                tx,
                tag="boat-3",
                software="",
                worker=stranger.username,
                spare=False,
                why="new battery",
                by=a_person(tx, Role.FLEET_MANAGER),
                now=NOW,
            )


@pytest.mark.parametrize("form", ["away", "retire"])
def test_what_needs_a_reason_is_refused_without(database: Database, form: str) -> None:
    with database.writing() as tx:
        a_device(tx)

        with pytest.raises(Refused) as refused:
            change(tx, form, why=" ")

    assert refused.value.faults[0].column == "why"


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("role", sorted(set(Role) - {Role.FLEET_MANAGER}))
def test_who_may_change_what(sqlite_database: Database, form: str, role: Role) -> None:
    with sqlite_database.writing() as tx:
        a_device(tx)

        if role is Role.TECHNICIAN and form not in KEEPERS:
            change(tx, form, role)
            return
        with pytest.raises(NotAllowed):
            change(tx, form, role)


def test_another_agencys_device_is_not_found(database: Database) -> None:
    with database.writing() as tx:
        a_device(tx)

        with pytest.raises(NotFound):
            change(tx, "move", by=olu(tx))


def test_a_wrong_check_character_is_told(database: Database) -> None:
    with database.writing() as tx:
        a_device(tx, "boat-3.4")

        with pytest.raises(NotFound, match=r"Did you mean boat-3\.4\?"):
            change(tx, "move", tag="boat-3.X")


def test_a_retired_device_leaves_wall_and_draws_and_keeps_its_history(database: Database) -> None:
    with database.writing() as tx:
        a_device(tx)
        a_device(tx, "boat-4")
        change(tx, "retire")
        femi = a_person(tx, Role.FLEET_MANAGER)
        seen = wall(tx, agency_id=femi.agency_id, now=NOW)
        drawn = draw_devices(
            tx,
            purpose="monthly",
            strata=Strata.NONE,
            tolerate=parse_share("5%", column="tolerate"),
            confidence=parse_share("95%", column="confidence"),
            seed="abc",
            by=femi,
            now=NOW,
        )
        kept = device_on_register(tx, agency_id=femi.agency_id, tag="boat-3", now=NOW)

    assert [one.mark.device.tag for one in seen.devices] == ["boat-4"]
    assert drawn.draw.chosen == ("boat-4",)
    assert kept.device.retired
    assert [one.kind for one in kept.history] == [ChangeKind.RETIRED, ChangeKind.ADDED]


def test_nobody_begins_to_read_a_retired_device(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        change(tx, "retire")

        with pytest.raises(NotNow, match="is retired"):
            begun(tx)


def test_retired_it_can_only_be_brought_back(database: Database) -> None:
    with database.writing() as tx:
        a_device(tx)
        change(tx, "retire")

        with pytest.raises(NotNow):
            change(tx, "move")
        back = actions.bring_device_back(
            tx, tag="boat-3", why="needed", by=a_person(tx, Role.FLEET_MANAGER), now=NOW + 2 * DAY
        )

    assert back.status is RegisterStatus.SPARE
