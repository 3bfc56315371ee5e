"""A scheme beside its proof: gaps, overlaps, the picture of both, and the edge cases."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.domain.age_axis import x_of
from app.domain.ages import AgeSpan
from app.domain.edge_cases import EdgeAnswer, EdgeRow, edge_answers, edge_rows
from app.domain.patient_categories import PatientCategory, SchemeFault, prove_scheme

ROW_PX = 22
_TOP_PX = 18  # room for the word over a mark
_FOOT_PX = 36  # two rows of ages, so that neighbours do not print over each other
_LEAST_PERCENT = 0.6  # a gap of one day must still be seen


@dataclass(frozen=True)
class Drawn:
    """Part of the axis from birth to 100 years, in percent of its length."""

    start: float
    width: float

    @property
    def end(self) -> float:
        return self.start + self.width


@dataclass(frozen=True)
class DrawnBand(Drawn):
    """A category as a bar on a row of its own; its name stands where there is room."""

    category: PatientCategory
    top: int

    @property
    def name_at(self) -> float:
        beside = {"start": self.end, "end": self.start, "inside": self.start}
        return beside[self.name_stands]

    @property
    def name_stands(self) -> str:
        """`start` after the bar, `end` before it, `inside` where neither side has room."""
        if self.start > 45:
            return "end"
        return "start" if self.end < 60 else "inside"


@dataclass(frozen=True)
class DrawnFault(Drawn):
    """`labels`: the categories that share these ages, as people know them."""

    fault: SchemeFault
    labels: tuple[str, ...]

    @property
    def words(self) -> str:
        """What it means for somebody of that age, with the exact ages."""
        if self.fault.kind == "gap":
            return f"Ages {self.fault.span} reach no category, and so no limits."
        return f"Ages {self.fault.span} reach {' and '.join(self.labels)}: which limits hold?"


@dataclass(frozen=True)
class DrawnEdge:
    at: float
    label: str
    low: bool  # on the lower of two rows


@dataclass(frozen=True)
class SchemeProof:
    bands: tuple[DrawnBand, ...]
    faults: tuple[DrawnFault, ...]
    edges: tuple[DrawnEdge, ...]
    cases: tuple[EdgeAnswer, ...]
    rows: tuple[EdgeRow, ...]

    @property
    def holds(self) -> bool:
        return not self.faults

    @property
    def foot(self) -> int:
        """Where the bars end, in pixels from the top."""
        return _TOP_PX + ROW_PX * len(self.bands)

    @property
    def height(self) -> int:
        return self.foot + _FOOT_PX

    @property
    def spoken(self) -> str:
        """The picture in words."""
        bands = "; ".join(f"{band.category.label} {band.category.span}" for band in self.bands)
        faults = "".join(f" {fault.words}" for fault in self.faults)
        return f"{bands}.{faults}"


def scheme_proof(categories: Sequence[PatientCategory]) -> SchemeProof:
    ordered = sorted(categories, key=lambda one: one.span.start)
    rows = edge_rows(categories)
    return SchemeProof(
        bands=tuple(_band(one, place) for place, one in enumerate(ordered)),
        faults=tuple(_fault(fault, categories) for fault in prove_scheme(categories)),
        edges=tuple(
            DrawnEdge(_percent(x_of(row.at)), str(row.at), low=place % 2 == 0)
            for place, row in enumerate(rows)
        ),
        cases=edge_answers(categories),
        rows=rows,
    )


def _band(category: PatientCategory, place: int) -> DrawnBand:
    start, width = _reach(category.span)
    return DrawnBand(start, width, category, _TOP_PX + ROW_PX * place)


def _fault(fault: SchemeFault, categories: Sequence[PatientCategory]) -> DrawnFault:
    start, width = _reach(fault.span)
    width = max(width, _LEAST_PERCENT)
    labels = tuple(one.label for one in categories if one.key in fault.keys)
    return DrawnFault(min(start, 100 - width), width, fault, labels)


def _reach(span: AgeSpan) -> tuple[float, float]:
    start, end = _percent(x_of(span.start)), _percent(x_of(span.stop))
    return start, round(end - start, 2)


def _percent(x: float) -> float:
    return round(100 * x, 2)
