"""A numbered version of an agency's outer bounds, and when it judges."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.errors import NotAllowed, NotNow, Refused
from app.domain.revisions import Author, Signature


class BoundsStatus(StrEnum):
    """What a person decided is draft or signed; the clock tells the rest."""

    DRAFT = "draft"
    SIGNED = "signed"
    IN_FORCE = "in-force"
    SUPERSEDED = "superseded"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


@dataclass(frozen=True)
class BoundsVersion:
    """`text` is the canonical CSV, `fingerprint` its SHA-256."""

    id: int
    number: int
    text: str
    fingerprint: str
    author: Author
    created_at: datetime
    edit_version: int = 1
    signature: Signature | None = None
    in_force_at: datetime | None = None

    @property
    def name(self) -> str:
        """As findings name what judged them."""
        signed = f"signed by {self.signature.name}" if self.signature else "draft"
        return f"version {self.number}, {signed}"


def in_force_among(versions: Iterable[BoundsVersion], at: datetime) -> BoundsVersion | None:
    """The highest number that has begun: a later version replaces one that has yet to begin."""
    begun = [v for v in versions if v.in_force_at is not None and v.in_force_at <= at]
    return max(begun, key=lambda version: version.number, default=None)


def judge_named(versions: Iterable[BoundsVersion], at: datetime) -> str:
    """The name of the bounds that judged at that time."""
    found = in_force_among(versions, at)
    return DEFAULT_BOUNDS.name if found is None else found.name


def status_among(
    versions: Iterable[BoundsVersion], version: BoundsVersion, now: datetime
) -> BoundsStatus:
    if version.in_force_at is None:
        return BoundsStatus.DRAFT
    held = in_force_among(versions, now)
    if held is not None and held.number >= version.number:
        same = held.number == version.number
        return BoundsStatus.IN_FORCE if same else BoundsStatus.SUPERSEDED
    return BoundsStatus.SIGNED


def check_can_edit(version: BoundsVersion, *, by: int) -> None:
    """Only who drafted it: then its one author is who wrote all of it, and cannot sign it."""
    if version.signature is not None:
        raise NotNow(f"Version {version.number} is signed. Start a draft from it.")
    if version.author.person_id != by:
        raise NotAllowed(
            f"{version.author.name} drafted version {version.number}. Start a draft of your own."
        )


def check_can_sign(
    versions: Iterable[BoundsVersion], version: BoundsVersion, *, signer: int
) -> None:
    """Numbers are signed in their order, and nobody adopts bounds that they alone wrote."""
    if version.signature is not None:
        raise NotNow(f"Version {version.number} is signed already.")
    for other in versions:
        if other.number > version.number and other.signature is not None:
            raise NotNow(f"Version {other.number} is signed already; draft a new version.")
    if version.author.person_id == signer:
        raise NotAllowed(
            "You drafted these bounds yourself. Somebody else must draft what you sign."
        )


def check_begins(in_force_at: datetime, *, now: datetime) -> None:
    """Never back in time: what has been judged stays as it was judged."""
    if in_force_at < now:
        raise Refused.because("this time has passed", column="in_force_at")
