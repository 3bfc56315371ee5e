"""What a step of a finding must tell besides its note, and what a reading that verifies shows."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.comparison import DEEP, base_alarm
from app.domain.device_reports import FoundOn, NotRead, Reading
from app.domain.errors import Fault, Refused
from app.domain.finding_causes import CauseCode
from app.domain.finding_life import (
    Audible,
    FindingKind,
    FindingStatus,
    StoredFinding,
    closes_as_slip,
)
from app.domain.fleet import StoredReport, was_read


@dataclass(frozen=True)
class StepDetails:
    """`heard` and `seen`: at the crew's seat. None: nothing was said of it."""

    cause: CauseCode | None = None
    heard: Audible | None = None
    seen: Audible | None = None


NOTHING = StepDetails()


def check_details(
    found: StoredFinding, to: FindingStatus, details: StepDetails, *, note: str
) -> None:
    """Raises Refused with everything that is missing."""
    faults = [*_out_of_place(to, details)]
    slip = closes_as_slip(found.status, to, found.kind, details.cause)
    if to is FindingStatus.CLOSED and found.kind is FindingKind.HELD and not slip:
        faults += _missing_at_closing(found, details, note)
    if faults:
        raise Refused(faults)


def _out_of_place(to: FindingStatus, details: StepDetails) -> Iterator[Fault]:
    if (details.heard is None) != (details.seen is None):
        missing = "heard" if details.heard is None else "seen"
        yield Fault("answer both: heard and seen", column=missing)
    if details.cause is not None and to not in (FindingStatus.CORRECTED, FindingStatus.CLOSED):
        yield Fault("the cause is told when it is corrected or closed", column="cause")
    if details.heard is not None and to not in (FindingStatus.VERIFIED, FindingStatus.CLOSED):
        yield Fault("this is told when it is verified or closed", column="heard")


def _missing_at_closing(found: StoredFinding, details: StepDetails, note: str) -> Iterator[Fault]:
    if found.cause is None and details.cause is None:
        yield Fault("choose why it had strayed", column="cause")
    if found.asks_for_seat and details.heard is None:
        yield Fault("say whether the alarm is heard at the crew's seat", column="heard")
    heard = details.heard or found.heard
    if heard is Audible.NO and not note:
        yield Fault("say what is done, since nobody hears it at the crew's seat", column="note")


def family(alarm: str) -> tuple[str, str]:
    """An alarm with its deep line: together they are what protects."""
    base = base_alarm(alarm)
    return base, base + DEEP


def why_not_proven(proof: StoredReport, as_found: StoredReport, alarm: str) -> str:
    """Empty: the whole alarm was read, as widely as when it was found, and conforms."""
    if proof.revision is None:
        return "was made while no policy was in force"
    lines = lines_to_read(as_found, alarm)
    if any(not was_read(_of(proof, one)) or one in proof.verdicts for one in lines):
        return "does not show that it conforms"
    if _says_less(_of(as_found, alarm), _of(proof, alarm)):
        return (
            "shows the limit that was found before and says nothing of priority, delay or "
            "latching, so it does not show what was corrected"
        )
    return ""


def _of(report: StoredReport, alarm: str) -> Reading:
    return report.readings.get(alarm, NotRead())


FACETS = ("priority", "delay_s", "latching")


def lines_to_read(as_found: StoredReport, alarm: str) -> list[str]:
    """What a reading must look at to verify a finding of this alarm, by what was found."""
    return [one for one in family(alarm) if one == alarm or was_read(_of(as_found, one))]


def wants_closely(as_found: StoredReport, alarm: str) -> bool:
    """Whether it must look at priority, delay and latching, too."""
    found = _of(as_found, alarm)
    return isinstance(found, FoundOn) and any(getattr(found, one) is not None for one in FACETS)


def _says_less(found: Reading, proof: Reading) -> bool:
    """With the same limit something else had been wrong, and that must have been looked at."""
    if not isinstance(found, FoundOn) or not isinstance(proof, FoundOn):
        return False
    if (found.limit, found.unit) != (proof.limit, proof.unit):
        return False
    return any(
        getattr(found, facet) is not None and getattr(proof, facet) is None for facet in FACETS
    )
