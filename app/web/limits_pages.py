"""What the pages of the look-up are made of: the ruler, and the limits as they were reached."""

from dataclasses import dataclass
from functools import cached_property
from typing import Self
from urllib.parse import urlencode

from app.domain.age_axis import WALK_STEPS, age_of_step, spoken, step_of_age, x_of
from app.domain.agencies import Agency
from app.domain.ages import Age
from app.domain.look_up import LimitsAt
from app.domain.patient_categories import PatientCategory
from app.domain.reaching import Reached
from app.domain.waivers import Waiver
from app.lookups.limits import PolicyShown
from app.web.by_hand import HandSet, hand_sets

_STOPS = "|".join(["", *(spoken(age_of_step(step)) for step in range(1, WALK_STEPS + 1))])


@dataclass(frozen=True)
class Band:
    """A category on the ruler; places in percent of its length."""

    category: PatientCategory
    start: float
    width: float


@dataclass(frozen=True)
class Ruler:
    """`ages` are what the thumb can stop at, told by the script while it slides."""

    bands: tuple[Band, ...] = ()
    age: Age | None = None
    steps: int = WALK_STEPS
    ages: str = _STOPS

    @classmethod
    def of(cls, categories: tuple[PatientCategory, ...], age: Age | None) -> Self:
        bands = [
            Band(one, 100 * start, 100 * (x_of(one.span.stop) - start))
            for one in categories
            for start in [x_of(one.span.start)]
        ]
        return cls(tuple(bands), age)

    @property
    def here(self) -> float | None:
        return None if self.age is None else 100 * x_of(self.age)

    @property
    def value(self) -> int:
        return 0 if self.age is None else step_of_age(self.age)


@dataclass(frozen=True)
class LimitsPage:
    """`model`: of the device whose label led here, "" for none. `gone`: what was asked for and
    is not there."""

    agency: Agency
    policy: PolicyShown | None
    ruler: Ruler
    shown: LimitsAt | None = None
    fault: str = ""
    typed: str = ""
    reached: Reached | None = None
    model: str = ""
    gone: str = ""

    @property
    def choices(self) -> list[PatientCategory]:
        """What the weight may mean, the likeliest first."""
        if self.reached is None:
            return []
        likely = [] if self.reached.category is None else [self.reached.category]
        return [*likely, *(one for one in self.reached.possible if one not in likely)]

    def waived(self, alarm: str) -> tuple[Waiver, ...]:
        if self.policy is None or self.shown is None:
            return ()
        chosen = "" if self.shown.chosen is None else self.shown.chosen.key
        return self.policy.waived(self.shown.category.key, alarm, chosen)

    def here(self, circumstance: str = "") -> str:
        """The address of the shown limits, under a circumstance or without one."""
        if self.shown is None:
            return self.asking()
        age, category = self.shown.age, self.shown.category.key
        asked = {"category": category} if age is None else {"age": str(age)}
        return self.asking(**asked, circumstance=circumstance)

    def asking(self, **asked: str) -> str:
        """The address of another question, of the same device; what is empty is not asked."""
        query = urlencode({k: v for k, v in {**asked, "model": self.model}.items() if v})
        return f"/{self.agency.key}/limits{'?' if query else ''}{query}"

    @cached_property
    def on_model(self) -> HandSet | None:
        """What the model holds by itself in this category, and what is left to set by hand."""
        if self.policy is None or self.shown is None or not self.model:
            return None
        sets = hand_sets(self.policy.by_hand_on(self.model))
        return next((one for one in sets if one.key == self.shown.category.key), None)

    def by_hand(self, alarm: str) -> bool:
        return self.on_model is not None and alarm in self.on_model.hand_keys
