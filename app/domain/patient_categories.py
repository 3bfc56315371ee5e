"""Patient categories: half-open bands of age. A scheme has no gap and no overlap; here is proof."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from app.domain.ages import BIRTH, Age, AgeSpan


@dataclass(frozen=True)
class PatientCategory:
    key: str
    label: str
    span: AgeSpan


@dataclass(frozen=True)
class SchemeFault:
    """Ages that reach no category (`keys` names the neighbours) or more than one."""

    kind: str  # "gap" or "overlap"
    span: AgeSpan
    keys: tuple[str, ...]


def prove_scheme(categories: Sequence[PatientCategory]) -> list[SchemeFault]:
    """Every age from birth on reaches exactly one category when the list is empty."""
    edges = {BIRTH}
    for category in categories:
        edges |= {category.span.start, *([category.span.end] if category.span.end else [])}
    starts = sorted(edges)
    ends: list[Age | None] = [*starts[1:], None]
    faults = []
    for start, end in zip(starts, ends, strict=True):
        holders = tuple(c.key for c in categories if start in c.span)
        if len(holders) != 1:
            faults.append(
                SchemeFault("overlap" if holders else "gap", AgeSpan(start, end), holders)
            )
    return _joined(faults)


def _joined(faults: Iterable[SchemeFault]) -> list[SchemeFault]:
    joined: list[SchemeFault] = []
    for fault in faults:
        last = joined[-1] if joined else None
        if last and (last.kind, last.keys, last.span.end) == (
            fault.kind,
            fault.keys,
            fault.span.start,
        ):
            joined[-1] = SchemeFault(last.kind, AgeSpan(last.span.start, fault.span.end), last.keys)
        else:
            joined.append(fault)
    return joined


def category_at(categories: Sequence[PatientCategory], age: Age) -> PatientCategory | None:
    return next((category for category in categories if age in category.span), None)
