"""The age corridor of one revision as a page or a file shows it."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from app.domain.age_axis import MARKS, AxisMark
from app.domain.ages import Age
from app.domain.corridor import Corridor, Lane
from app.domain.findings import Finding, Severity
from app.domain.published_tables import GRADES
from app.domain.source_lines import LetteredVoice, SourceLine, lettered_voices, source_lines
from app.domain.sources_at import SourcesAt, sources_at
from app.domain.wall_grips import Grip, grips_of
from app.lookups.policy import OpenRevision
from app.lookups.policy_judged import JudgedRevision


@dataclass(frozen=True)
class SourcesView:
    """What every source says: by lane as lines, at the age in hand as words."""

    voices: tuple[LetteredVoice, ...]
    lines: Mapping[str, tuple[SourceLine, ...]]
    at: tuple[SourcesAt, ...]

    def read_as(self, one: LetteredVoice) -> str:
        """How the numbers were read; empty for bounds, which nobody published."""
        return GRADES.get(one.voice.grade or "", "")


@dataclass(frozen=True)
class CorridorView:
    """`held` is the number of the revision in force; `told` how the check stands, in a line."""

    base: str
    number: int
    corridor: Corridor
    held: int | None
    told: str
    grips: Mapping[str, tuple[Grip, ...]]
    sources: SourcesView | None = None
    swapped: Collection[str] | None = None  # lanes to swap after an edit; None: the whole corridor
    marks: tuple[AxisMark, ...] = MARKS

    @property
    def lanes(self) -> tuple[Lane, ...]:
        return self.corridor.lanes

    def labels(self, categories: Collection[str]) -> str:
        """`Infant, Child`, in order of age and each once."""
        return ", ".join(band.label for band in self.corridor.bands if band.key in categories)

    def lane_words(self, lane: Lane) -> str:
        """What the drawing of a lane shows, for whoever does not see it."""
        silent = self.labels({r.category for r in lane.silent if r.grade == "danger"})
        noisy = self.labels({r.category for r in lane.noisy})
        told = [f"Silent: {silent}."] if silent else []
        told += [f"Noisy: {noisy}."] if noisy else []
        return f"{lane.vital.label}, {lane.vital.shown}. {' '.join(told) or 'Walls by age.'}"


def corridor_view(
    base: str, found: OpenRevision, judged: JudgedRevision, *, can_edit: bool = False
) -> CorridorView:
    grips = {}
    if can_edit:
        lanes = judged.corridor.lanes
        grips = {lane.vital.key: tuple(grips_of(judged.profile, lane)) for lane in lanes}
    return CorridorView(
        base,
        found.revision.number,
        judged.corridor,
        None if found.in_force is None else found.in_force.number,
        told(judged.findings),
        grips,
    )


def told(findings: Collection[Finding]) -> str:
    """How the check stands, in one line."""
    counts = [
        f"{count} {severity.value}{'s' if severity is Severity.NOTE and count > 1 else ''}"
        for severity in Severity
        if (count := sum(finding.severity is severity for finding in findings))
    ]
    return f"{', '.join(counts)}." if counts else "Nothing was found."


def sources_view(judged: JudgedRevision, age: Age) -> SourcesView:
    lanes, bounds = judged.corridor.lanes, judged.bounds
    lines = {lane.vital.key: source_lines(lane, bounds) for lane in lanes}
    heard = {line.letter for drawn in lines.values() for line in drawn}
    voices = tuple(one for one in lettered_voices(bounds) if one.letter in heard)
    return SourcesView(voices, lines, at=sources_here(judged, age))


def sources_here(judged: JudgedRevision, age: Age) -> tuple[SourcesAt, ...]:
    keys = [lane.vital.key for lane in judged.corridor.lanes]
    return tuple(sources_at(keys, age, judged.bounds))


def lanes_that_differ(before: Corridor, after: Corridor) -> frozenset[str] | None:
    """None where more than single lanes changed."""
    if before.bands != after.bands or len(before.lanes) != len(after.lanes):
        return None
    pairs = list(zip(before.lanes, after.lanes, strict=True))
    if any(was.vital is not now.vital for was, now in pairs):
        return None
    return frozenset(now.vital.key for was, now in pairs if was is not now and was != now)
