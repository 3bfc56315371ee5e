"""One outer bound of a draft as it is typed, and the pages on which a draft is edited."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, Field

from app.domain.bounds_changes import BoundChange, beyond, label_of
from app.domain.bounds_edits import mark_of
from app.domain.bounds_proof import BoundsProof, SideProof, bounds_proof, side_proof
from app.domain.errors import Fault
from app.domain.findings import Finding
from app.domain.known_circumstances import KNOWN_CIRCUMSTANCES
from app.domain.outer_bounds import OuterBound
from app.domain.sources_over import SaidOver, apart, sources_over
from app.domain.vital_signs import VITAL_SIGNS, judged_as
from app.exchange.bounds_csv import PLACES, cells_of, read_bound
from app.lookups.outer_bounds import OpenBounds

Short = Annotated[str, Field(max_length=60)]
Words = Annotated[str, Field(max_length=2000)]
GRADE_WORDS = {"danger": "danger: silence is unsafe", "caution": "caution: silence is a note"}
QUANTITIES = tuple(
    (key, VITAL_SIGNS[key].label if key in VITAL_SIGNS else key.replace("-", " ").capitalize())
    for key in (*VITAL_SIGNS, "apnoea", "airway-apnoea")
    if judged_as(key) == key and any(quantity == key for quantity, _ in PLACES)
)


class BoundEntry(BaseModel):
    """`act` is `show` or `save`; every other text is a cell of the CSV file."""

    vital_sign: Short = ""
    age_from: Short = ""
    age_to: Short = ""
    when: Short = ""
    side: Short = ""
    bound: Short = ""
    grade: Short = ""
    source: Words = ""
    status: Words = ""
    act: Short = "save"
    edit_version: int = 0

    def row(self) -> OuterBound:
        """Raises Refused with the field as column."""
        return read_bound(self.model_dump(exclude={"act", "edit_version"}))


def typed_as(row: OuterBound) -> BoundEntry:
    return BoundEntry.model_validate(cells_of(row))


@dataclass(frozen=True)
class EditedRow:
    """`change` None: as it is in force."""

    row: OuterBound
    mark: str
    change: BoundChange | None


@dataclass(frozen=True)
class BoundsEditor:
    base: str
    found: OpenBounds
    counted: str
    label: Callable[[OuterBound], str] = label_of
    beyond: Callable[[OuterBound], str] = beyond
    quantities: tuple[tuple[str, str], ...] = QUANTITIES

    @property
    def rows(self) -> tuple[EditedRow, ...]:
        changed = {one.after: one for one in self.found.against_in_force if one.after}
        return tuple(
            EditedRow(row, mark_of(row), changed.get(row)) for row in self.found.bounds.rows
        )

    @property
    def proof(self) -> BoundsProof:
        return bounds_proof(self.found.bounds)

    @property
    def gone(self) -> tuple[OuterBound, ...]:
        changes = self.found.against_in_force
        return tuple(one.before for one in changes if one.after is None and one.before)


@dataclass(frozen=True)
class BoundForm:
    """`mark` empty: a new bound. `row` is what was typed, None where it is none; `shown`: it has
    been asked what it would do. `found` is the draft with it."""

    base: str
    version: int
    edit_version: int
    mark: str
    entry: BoundEntry
    row: OuterBound | None
    found: OpenBounds
    shown: bool = False
    faults: tuple[Fault, ...] = ()
    label: Callable[[OuterBound], str] = label_of
    beyond: Callable[[OuterBound], str] = beyond
    quantities: tuple[tuple[str, str], ...] = QUANTITIES
    grade_words: tuple[tuple[str, str], ...] = tuple(GRADE_WORDS.items())
    circumstances: tuple[str, ...] = tuple(KNOWN_CIRCUMSTANCES)

    @property
    def action(self) -> str:
        return f"{self.base}/rows/{self.mark}" if self.mark else f"{self.base}/rows"

    @property
    def change(self) -> BoundChange | None:
        """Beside what is in force; None where the row is the same there."""
        return next((one for one in self.found.against_in_force if one.after == self.row), None)

    @property
    def source_of_other(self) -> bool:
        """Whether the value moved and what is written as its source did not."""
        before = self.change.before if self.change else None
        row = self.row
        if before is None or row is None:
            return False
        moved = (before.base, before.per_year) != (row.base, row.per_year)
        return moved and before.source == row.source

    @property
    def in_force(self) -> tuple[OuterBound, ...]:
        """What judges now at some of these ages on the same side."""
        row = self.row
        if row is None:
            return ()
        there = self.found.in_force.of(row.quantity, row.side)
        return tuple(one for one in there if one.span.meet(row.span) is not None)

    @property
    def sources(self) -> tuple[SaidOver, ...]:
        row = self.row
        return () if row is None else sources_over(row.quantity, row.span, row.side)

    @property
    def apart(self) -> str:
        return apart(self.sources)

    @property
    def unit(self) -> str:
        if self.row is None:
            return ""
        vital = VITAL_SIGNS.get(self.row.quantity)
        return vital.shown if vital else "s"

    @property
    def proof(self) -> SideProof | None:
        """Of the side that is edited, with what was typed where it has been shown."""
        row = self.row
        return None if row is None else side_proof(self.found.bounds, row.quantity, row.side)

    @property
    def newly_unsafe(self) -> tuple[Finding, ...]:
        return self._about(self.found.policy.newly_unsafe) if self.found.policy else ()

    @property
    def safe_again(self) -> tuple[Finding, ...]:
        return self._about(self.found.policy.unsafe_before) if self.found.policy else ()

    def _about(self, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
        """Of the alarms that this vital sign's bounds judge."""
        if self.row is None:
            return ()
        quantity = self.row.quantity
        return tuple(
            one
            for one in findings
            if any(_judged(alarm) == quantity for alarm in one.alarms) or not one.alarms
        )


def _judged(alarm: str) -> str:
    return judged_as(alarm.removesuffix("-low").removesuffix("-high"))
