"""A device that nobody may touch, because what it still remembers may have to be proved.

Its settings and its log are evidence: a battery that runs down, or a start with the reset key,
takes them away for good.
"""

import re
from dataclasses import dataclass
from datetime import datetime

from app.domain.errors import Fault, NotNow, Refused

ORDER = "Do not power-cycle, discharge or erase it. Export the log first."
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Handover:
    """One link of the chain of custody. `seal`: number or mark, empty if it was not sealed."""

    given_by: str
    taken_by: str
    at: datetime
    place: str
    seal: str
    note: str
    recorded_by: str
    recorded_at: datetime


@dataclass(frozen=True)
class LogKept:
    """The log itself is kept elsewhere, since it holds data of patients: `place` says where."""

    fingerprint: str
    place: str
    by: str
    at: datetime


@dataclass(frozen=True)
class Word:
    """Of who decided, when and why."""

    by: str
    at: datetime
    reason: str


@dataclass(frozen=True)
class Quarantine:
    """`log_waived`: the director's word that it goes on without the log."""

    id: int
    device: str
    finding: int
    placed: Word
    log: LogKept | None = None
    log_waived: Word | None = None
    released: Word | None = None
    custody: tuple[Handover, ...] = ()

    @property
    def stands(self) -> bool:
        return self.released is None

    @property
    def holder(self) -> str:
        """Who has it now, as far as anybody wrote down."""
        return self.custody[-1].taken_by if self.custody else ""

    @property
    def blocks_correction(self) -> bool:
        return self.stands and self.log is None and self.log_waived is None


def check_may_correct(standing: Quarantine | None) -> None:
    if standing is not None and standing.blocks_correction:
        raise NotNow(
            f"{standing.device} is in quarantine and its log is not exported. {ORDER} "
            "Only the medical director can let it be corrected without its log."
        )


def read_fingerprint(typed: str) -> str:
    """As the tools print it: blanks and capitals do not matter."""
    text = "".join(typed.split()).lower()
    if _SHA256.fullmatch(text) is None:
        raise Refused.because(
            "write the SHA-256 of the exported file, 64 characters 0-9 and a-f",
            column="fingerprint",
        )
    return text


def check_handover(before: Quarantine, at: datetime, *, now: datetime) -> None:
    """A chain has one order: nothing is put in before its last link."""
    faults = []
    if at > now:
        faults.append(Fault("this time has not come yet", column="at"))
    if before.custody and at < before.custody[-1].at:
        faults.append(Fault("this is before the last entry of the chain", column="at"))
    if faults:
        raise Refused(faults)
