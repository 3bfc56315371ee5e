"""May this device be used as it is? Three answers, and every one says what to do.

None of them says that a patient goes without a monitor.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from app.domain.agency_choices import AgencyChoices
from app.domain.device_changes import ChangeKind
from app.domain.device_reports import NotRead, Origin
from app.domain.devices import Device, RegisterStatus
from app.domain.findings import Severity
from app.domain.fleet import StoredReport, critical_of, was_read
from app.domain.known_devices import Mark
from app.domain.local_days import day_words
from app.domain.option_judgement import ANY_PRESET
from app.domain.options import SILENCING
from app.domain.power_pauses import counts
from app.domain.rendering import RenderedPreset

Presets = Mapping[str, RenderedPreset]


class ClearanceState(StrEnum):
    CLEARED = "cleared"
    BY_HAND = "by-hand"
    NOT_CLEARED = "not-cleared"

    @property
    def words(self) -> str:
        return _WORDS[self]

    @property
    def advice(self) -> str:
        return _ADVICE[self]


_WORDS = {
    ClearanceState.CLEARED: "cleared",
    ClearanceState.BY_HAND: "use with limits set by hand from the card",
    ClearanceState.NOT_CLEARED: "not cleared",
}
_ADVICE = {
    ClearanceState.CLEARED: "Use it, and look at its limits as with every device.",
    ClearanceState.BY_HAND: "Use it. Set its limits by hand from the card for every patient.",
    ClearanceState.NOT_CLEARED: (
        "Take a cleared device if one is at hand. If none is, use this one: "
        "set its limits by hand from the card, and watch the patient closely."
    ),
}


@dataclass(frozen=True)
class Cause:
    """What made a blind reading necessary. `worker`: who did the work and may not prove it."""

    kind: ChangeKind
    at: datetime
    worker: int | None = None
    cleared_at: datetime | None = None

    @property
    def stands(self) -> bool:
        return self.cleared_at is None


@dataclass(frozen=True)
class Override:
    """The director's word over what is not cleared, until the end of a day."""

    to: ClearanceState
    made_at: datetime
    by: str
    reason: str
    until: date

    @property
    def words(self) -> str:
        """Who, until when, and why."""
        return f"{self.told}: {self.reason}"

    @property
    def told(self) -> str:
        """Without the reason, which may name what was found: whoever reads the device blind must
        not meet it."""
        return f"The director, {self.by}, until {day_words(self.until)}"


@dataclass(frozen=True)
class OpenFindings:
    """Of one device and severity: what nobody has verified yet. `latest`: the last one opened."""

    severity: Severity
    count: int
    latest: datetime
    accepted: int = 0


@dataclass(frozen=True)
class Clearance:
    """`why` is empty where it is cleared. `override` is set only while it is what decides."""

    state: ClearanceState
    why: tuple[str, ...] = ()
    override: Override | None = None

    @property
    def words(self) -> str:
        return self.state.words

    @property
    def advice(self) -> str:
        return self.state.advice


def clearance_of(
    mark: Mark,
    *,
    cause: Cause | None,
    findings: Collection[OpenFindings],
    override: Override | None,
    today: date,
    overdue_before: datetime,
    quarantined: bool = False,
    crew_found: Sequence[str] = (),
) -> Clearance:
    """`today` in the agency's zone. Nothing is cleared for ever: past the check interval a device
    is used with the card. No word of anybody lets a device in quarantine be used, nor one of which
    a crew found at its shift check that it may stay silent, until that is put right."""
    against = (*_of_crew(crew_found), *_against(mark, cause, findings))
    if quarantined:
        return Clearance(ClearanceState.NOT_CLEARED, ("It is in quarantine.", *against))
    if not against:
        by_hand = tuple(_by_hand(mark, findings, overdue_before))
        return Clearance(ClearanceState.BY_HAND if by_hand else ClearanceState.CLEARED, by_hand)
    if (
        override is not None
        and not crew_found
        and _decides(override, mark.device, cause, findings, today)
    ):
        return Clearance(override.to, against, override)
    return Clearance(ClearanceState.NOT_CLEARED, against)


def _against(mark: Mark, cause: Cause | None, findings: Collection[OpenFindings]) -> Iterator[str]:
    if mark.device.retired:
        yield "It is retired."
        return
    if mark.device.status is RegisterStatus.AWAY:
        yield "It is away for service."
    unsafe = sum(one.count - one.accepted for one in findings if one.severity is Severity.UNSAFE)
    if unsafe:
        yield f"{_counted(unsafe, 'unsafe finding')} not verified."
    elif not findings and mark.tally is not None and mark.tally.worst is Severity.UNSAFE:
        yield "It was last read unsafe."
    if cause is not None and cause.stands:
        yield f"{_CAUSE[cause.kind]}, and nobody else has read it blind since and found it right."
    if mark.tally is None:
        yield "Nobody has read what it holds."
    elif mark.presets_read < mark.presets_offered:
        yield f"Only {mark.presets_read} of its {mark.presets_offered} presets were ever read."


def _of_crew(found: Sequence[str]) -> Iterator[str]:
    for words in found:
        yield f"At a shift check a crew found that {words}."


_CAUSE = {
    ChangeKind.CAME_BACK: "It came back from service",
    ChangeKind.SOFTWARE: "Its software was changed",
    ChangeKind.BORROWED: "It came on loan",
    ChangeKind.MOVED: "It moved to another station",
    ChangeKind.BROUGHT_BACK: "It was brought back into use",
}


def _by_hand(
    mark: Mark, findings: Collection[OpenFindings], overdue_before: datetime
) -> Iterator[str]:
    off = sum(one.count for one in findings if one.severity is Severity.OFF_PROTOCOL)
    accepted = sum(one.accepted for one in findings if one.severity is Severity.UNSAFE)
    if accepted:
        yield f"{_counted(accepted, 'unsafe finding')} accepted by the director for a time."
    if off:
        yield f"{_counted(off, 'limit')} off protocol."
    elif mark.tally is not None and mark.tally.worst is Severity.OFF_PROTOCOL:
        yield "It was last read off protocol."
    if mark.tally is not None and mark.tally.missing:
        yield f"{_counted(mark.tally.missing, 'alarm')} not read, or could not be read."
    if mark.oldest_read_at is not None and mark.oldest_read_at < overdue_before:
        yield "Nobody has read all of it within the check interval."


def _counted(number: int, noun: str) -> str:
    return f"1 {noun} is" if number == 1 else f"{number} {noun}s are"


def _decides(
    override: Override,
    device: Device,
    cause: Cause | None,
    findings: Iterable[OpenFindings],
    today: date,
) -> bool:
    """It covers what stood when it was made, and nothing that came later."""
    if today > override.until or device.retired or device.status is RegisterStatus.AWAY:
        return False
    if cause is not None and cause.stands and cause.at > override.made_at:
        return False
    unsafe = [one for one in findings if one.severity is Severity.UNSAFE]
    return all(one.latest <= override.made_at for one in unsafe)


def proof_of(
    cause: Cause,
    reports: Sequence[StoredReport],
    lookers: Mapping[int, Collection[int]],
    presets: Presets,
    *,
    revision: int,
    choices: AgencyChoices,
    options: Collection[str] = (),
) -> StoredReport | None:
    """The last of the blind readings that prove every preset since the cause, and the options that
    the policy states; None: not yet.

    Of each preset the latest tells, and only what was held against this revision. `lookers`: by
    report everybody whose looks it settles; whoever did the work is none of them.
    """
    asked = {key: critical_of(rendered, choices) for key, rendered in presets.items()}
    retention = next((one.retention_min for one in presets.values()), None)
    telling: dict[str, StoredReport] = {}
    for report in sorted(reports, key=lambda one: (one.read_at, one.id)):
        held = report.revision == revision and report.preset in {*asked, ANY_PRESET}
        blind = report.origin in (Origin.FORM, Origin.SETTLED) and report.read_at > cause.at
        if held and blind and counts(report.state_read, report.minutes_off, retention):
            telling[report.preset] = report
    if options:
        asked[ANY_PRESET] = [key for key in options if key in SILENCING]
    if not presets or not telling.keys() >= asked.keys():
        return None
    proven = all(
        cause.worker not in {telling[key].reader_id, *lookers.get(telling[key].id, ())}
        and _conforms(telling[key], wanted, options if key == ANY_PRESET else ())
        for key, wanted in asked.items()
    )
    return max((telling[key] for key in asked), key=lambda one: one.read_at) if proven else None


def _conforms(report: StoredReport, wanted: Collection[str], answered: Collection[str]) -> bool:
    """`wanted` must have been read; of `answered` it is enough to say why they cannot be."""
    whole = all(was_read(report.readings.get(key, NotRead())) for key in wanted)
    whole = whole and all(key in report.readings for key in answered)
    return whole and not any(s is not Severity.NOTE for _, s in report.verdicts.values())
