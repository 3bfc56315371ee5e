"""Band advice as its page shows it: what was asked, the best by number of bands, the corridor."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated

from pydantic import BaseModel, Field

from app.domain.ages import Age
from app.domain.band_advice import (
    HEAVIEST,
    MOST_BANDS,
    Band,
    BandAdvice,
    BandQuestion,
    Plan,
    published_signs,
    whole_months,
)
from app.domain.band_costs import Weights
from app.domain.band_drafts import cuts
from app.domain.band_pictures import band_corridor, band_label
from app.domain.band_search import Aim
from app.domain.band_words import (
    comparison_words,
    left_words,
    limit_words,
    score_words,
    settable_words,
    today_words,
)
from app.domain.errors import Fault, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, may
from app.domain.profiles import Profile
from app.domain.reference_ranges import PUBLISHED
from app.domain.revisions import StoredRevision
from app.domain.vital_signs import VITAL_SIGNS, VitalSign
from app.lookups.band_advice import AdvisedBands
from app.lookups.policy import OpenRevision
from app.lookups.policy_judged import judged
from app.web.policy_corridor import CorridorView
from app.web.policy_desk import Desk, desk_of
from app.web.policy_pages import base_of

Word = Annotated[str, Field(max_length=40)]
USUAL_BANDS = 4
AIMS = {Aim.WORST: "the worst month", Aim.MEAN: "the mean of all months"}


class BandsEntry(BaseModel):
    """As typed; empty `bands` are as many as the policy has today."""

    vital: Word = "heart-rate"
    bands: Word = ""
    aim: Word = Aim.WORST.value
    danger: Word = "10"
    caution: Word = "1"
    until: Word = "18 y"

    def question(self) -> BandQuestion:
        """Raises Refused with a fault a field."""
        faults: list[Fault] = []
        danger, caution = (_weight(self, name, faults) for name in ("danger", "caution"))
        until = _until(self.until, faults)
        if self.vital not in VITAL_SIGNS:
            faults.append(Fault("choose one", column="vital"))
        if self.aim not in set(Aim):
            faults.append(Fault("choose one", column="aim"))
        if self.bands and self.bands not in map(str, range(1, MOST_BANDS + 1)):
            faults.append(Fault(f"choose 1 to {MOST_BANDS}", column="bands"))
        if faults:
            raise Refused(faults)
        return BandQuestion(self.vital, Aim(self.aim), Weights(danger, caution), until)

    def count(self, advice: BandAdvice) -> int:
        if self.bands:
            return int(self.bands)
        held = USUAL_BANDS if advice.today is None else len(advice.today.bands)
        return min(held, MOST_BANDS)


def _weight(entry: BandsEntry, name: str, faults: list[Fault]) -> float:
    try:
        weight = float(getattr(entry, name))
    except ValueError:
        weight = -1.0
    if not 0 <= weight <= HEAVIEST:
        faults.append(Fault(f"write a number from 0 to {HEAVIEST:g}", column=name))
    return weight


def _until(text: str, faults: list[Fault]) -> int:
    try:
        return whole_months(Age.parse(text.strip()))
    except ValueError as error:
        faults.append(Fault(str(error), column="until"))
    except Refused as refused:
        faults += refused.faults
    return 1


@dataclass(frozen=True)
class ShownBand:
    """`cut` are the labels of the categories that one of its edges divides."""

    band: Band
    label: str
    limits: str
    today: tuple[str, ...]
    cut: tuple[str, ...]


@dataclass(frozen=True)
class BandsPage:
    """`advice` None: `faults` say why nothing could be weighed."""

    base: str
    revision: StoredRevision
    profile: Profile
    desk: Desk
    entry: BandsEntry
    bounds: str
    can_start: bool
    advice: BandAdvice | None = None
    plan: Plan | None = None
    drawn: CorridorView | None = None
    rows: tuple[ShownBand, ...] = ()
    faults: tuple[Fault, ...] = ()
    confirmed: frozenset[str] = frozenset()
    changed: str = ""  # why what was confirmed could not be taken over
    signs: tuple[VitalSign, ...] = published_signs()
    counts: range = range(1, MOST_BANDS + 1)

    @property
    def aims(self) -> dict[Aim, str]:
        return AIMS

    @property
    def fields(self) -> tuple[str, ...]:
        return tuple(BandsEntry.model_fields)

    @property
    def count(self) -> int:
        return 0 if self.advice is None else self.entry.count(self.advice)

    @cached_property
    def told(self) -> tuple[str, ...]:
        """What the advice says, in sentences."""
        if self.advice is None or self.plan is None:
            return ()
        unit = self.advice.vital.shown
        said = (score_words(self.plan, unit), today_words(self.advice))
        rest = (
            comparison_words(self.advice, self.plan),
            settable_words(self.advice),
            left_words(self.advice),
        )
        return tuple(filter(None, (*said, *rest)))


def unasked_page(
    found: OpenRevision, entry: BandsEntry, person: Person, faults: tuple[Fault, ...] = ()
) -> BandsPage:
    """Before anything was weighed."""
    return BandsPage(
        base_of(person, found.revision.number),
        found.revision,
        found.profile,
        desk_of(found, judged(found).findings, person),
        entry,
        found.bounds.name,
        can_start=may(person, Deed.EDIT_DRAFT),
        faults=faults,
    )


def bands_page(answer: AdvisedBands, entry: BandsEntry, person: Person) -> BandsPage:
    found, advice = answer.found, answer.advice
    page = unasked_page(found, entry, person)
    if advice is None:
        faults = () if answer.refused is None else answer.refused.faults
        return replace(page, faults=faults)
    plan = advice.with_bands(entry.count(advice))
    drawn = band_corridor(
        plan, advice.vital, found.profile, references=PUBLISHED, bounds=found.bounds
    )
    view = CorridorView(page.base, found.revision.number, drawn, None, "", {})
    rows = tuple(_rows(advice, plan, found.profile))
    return replace(page, advice=advice, plan=plan, drawn=view, rows=rows)


def _rows(advice: BandAdvice, plan: Plan, profile: Profile) -> Iterator[ShownBand]:
    labels = {one.key: one.label for one in profile.categories}
    unit = advice.vital.shown
    for band in plan.bands:
        held = () if advice.today is None else advice.today.bands
        today = tuple(
            f"{band_label(one)}: {limit_words(one, unit)}"
            for one in held
            if one.ages.meet(band.ages)
        )
        cut = tuple(f"{labels[one.category]} at {one.at}" for one in cuts(profile.document, [band]))
        yield ShownBand(band, band_label(band), limit_words(band, unit), today, cut)
