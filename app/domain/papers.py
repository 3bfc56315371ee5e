"""What a printed policy holds: the revision, what judged it, and where the ledger stood."""

from dataclasses import dataclass
from datetime import date, datetime

from app.domain.agencies import Agency
from app.domain.corridor import Corridor
from app.domain.findings import Finding
from app.domain.local_days import local_day
from app.domain.moves import RevisionStatus
from app.domain.profiles import Profile
from app.domain.revisions import StoredRevision
from app.domain.waivers import Waiver


@dataclass(frozen=True)
class LedgerPlace:
    """An entry of the agency's chain; `seq` 0 is the empty chain."""

    seq: int
    hash: str


@dataclass(frozen=True)
class PolicyPaper:
    """`revision` has its status as of printing. `findings` are by `bounds`: those that judged the
    signing, or for a draft those that would judge it now. `signing`: the entry of the signature.
    `replayed`: the categories of which an annex tells noise and silence."""

    agency: Agency
    revision: StoredRevision
    profile: Profile
    bounds: str
    findings: tuple[Finding, ...]
    waivers: tuple[Waiver, ...]
    corridor: Corridor
    head: LedgerPlace
    signing: LedgerPlace | None
    printed_at: datetime
    replayed: frozenset[str] = frozenset()

    @property
    def today(self) -> date:
        """The day of the agency on which it is printed."""
        return local_day(self.printed_at, self.agency.time_zone)

    @property
    def is_signed(self) -> bool:
        return self.revision.signed_at is not None

    @property
    def holds(self) -> bool:
        """Whether a crew may use it as printed: signed, and neither replaced nor withdrawn."""
        return self.revision.status in (RevisionStatus.SIGNED, RevisionStatus.IN_FORCE)
