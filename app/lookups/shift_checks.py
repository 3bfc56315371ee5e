"""What is asked at a shift check, what one brought, and whether every device has had its own."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from sqlmodel import Session

from app.domain.agency_choices import AgencyChoices
from app.domain.device_models import DeviceModel
from app.domain.devices import Device
from app.domain.errors import NotFound
from app.domain.findings import Severity
from app.domain.fleet import StoredReport
from app.domain.power_pauses import counts
from app.domain.reading_sessions import ReadingSession
from app.domain.rendering import rendered_presets
from app.domain.shift_checks import Result, ShiftCheck
from app.domain.shift_rounds import LOOKED_BACK, Rounds, rounds
from app.exchange.stored_profiles import stored_profile
from app.lookups.quarantines import device_hold
from app.storage import devices, reports, revisions, shift_checks
from app.storage import reading_sessions as sessions
from app.storage.agencies import agency_by_id


@dataclass(frozen=True)
class CheckAsked:
    """`device` None: any of the agency's. `presets`: what each model of the policy names its own,
    by model; of a known device those of its model alone. Nothing signed is in it."""

    choices: AgencyChoices
    device: Device | None
    presets: Mapping[str, tuple[str, ...]]
    model: DeviceModel | None = None
    quarantined: bool = False


def check_asked(tx: Session, *, agency_id: int, now: datetime, tag: str = "") -> CheckAsked:
    """Raises NotFound where no device has this tag."""
    choices = agency_by_id(tx, agency_id).choices
    revision = revisions.revision_in_force(tx, agency_id=agency_id, at=now)
    profile = None if revision is None else stored_profile(revision.document)
    device = devices.device_tagged(tx, agency_id=agency_id, tag=tag) if tag else None
    if profile is None:
        return CheckAsked(choices, device, {})
    models = [device.model] if device else sorted(profile.models) or [""]
    return CheckAsked(
        choices,
        device,
        {model: tuple(rendered_presets(profile, model)) for model in models},
        profile.models.get(device.model) if device else None,
        device is not None and device_hold(tx, agency_id=agency_id, tag=tag).standing is not None,
    )


@dataclass(frozen=True)
class CheckBrought:
    """`report`: what the reading is known to have found, None while another look is wanted.
    `counts`: nothing in it was left from the last patient."""

    check: ShiftCheck
    session: ReadingSession
    report: StoredReport | None
    counts: bool
    tell: str
    now: datetime

    @property
    def result(self) -> Result:
        unsafe = self.report is not None and any(
            severity is Severity.UNSAFE for _, severity in self.report.verdicts.values()
        )
        if unsafe or (self.check.grave and self.check.waits):
            return Result.UNSAFE
        if self.session.wanted is not None and not self.session.is_late(self.now):
            return Result.LOOK_AGAIN
        if self.report is not None and any(
            severity is not Severity.NOTE for _, severity in self.report.verdicts.values()
        ):
            return Result.DIFFERS
        return self._nothing_of_limits()

    def _nothing_of_limits(self) -> Result:
        if self.check.waits:
            return Result.AMISS
        if not self.counts:
            return Result.IN_USE
        if self.check.seen:
            return Result.SEEN
        is_whole = self.report is not None and self.report.revision is not None
        return Result.PARTLY if self.check.unread or not is_whole else Result.HOLDS

    @property
    def look_again(self) -> int:
        """How many alarms are asked once more; 0 where nobody is asked."""
        late = self.session.is_late(self.now)
        wanted = None if late else self.session.wanted
        return 0 if wanted is None else len(wanted.asked)


def check_brought(tx: Session, *, agency_id: int, number: int, now: datetime) -> CheckBrought:
    check = shift_checks.find_check(tx, agency_id=agency_id, check_id=number)
    if check is None:
        raise NotFound("There is no such shift check.")
    session = sessions.session_by_id(tx, check.reading)
    report = None if session.telling is None else reports.report_by_id(tx, session.telling)
    counted = counts(check.state_read, session.minutes_off, _retention(tx, agency_id, check))
    tell = agency_by_id(tx, agency_id).choices.shift_tell
    return CheckBrought(check, session, report, counted, tell, now)


def _retention(tx: Session, agency_id: int, check: ShiftCheck) -> Decimal | None:
    revision = revisions.revision_in_force(tx, agency_id=agency_id, at=check.read_at)
    device = devices.device_tagged(tx, agency_id=agency_id, tag=check.device)
    models = {} if revision is None else stored_profile(revision.document).models
    model = models.get(device.model)
    return None if model is None else model.retention_min


@dataclass(frozen=True)
class ChecksPage:
    """`waiting`: what crews found besides limits and nobody has put right."""

    rounds: Rounds
    waiting: tuple[ShiftCheck, ...]
    hours: int


def checks_page(tx: Session, *, agency_id: int, now: datetime) -> ChecksPage:
    choices = agency_by_id(tx, agency_id).choices
    found = rounds(
        shift_checks.devices_in_service(tx, agency_id),
        shift_checks.times_since(tx, agency_id, now - LOOKED_BACK),
        every=choices.shift,
        now=now,
    )
    waiting = tuple(shift_checks.checks_that_wait(tx, agency_id))
    return ChecksPage(found, waiting, choices.shift_hours)


def latest_check(tx: Session, *, agency_id: int, tag: str) -> ShiftCheck | None:
    device = devices.device_tagged(tx, agency_id=agency_id, tag=tag)
    return next(iter(shift_checks.latest_checks(tx, device, most=1)), None)
