"""The look-up: limits in force by age or category, for anybody, on any phone."""

import hashlib
import re
from dataclasses import dataclass
from typing import Annotated, Self
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field

from app.domain.age_axis import WALK_STEPS, age_of_step, spoken, step_of_age, x_of
from app.domain.agencies import Agency
from app.domain.ages import Age
from app.domain.errors import Refused
from app.domain.look_up import LimitsAt
from app.domain.patient_categories import PatientCategory
from app.domain.reaching import Reached, resolve
from app.domain.waivers import Waiver
from app.lookups.limits import PolicyInForce, policy_in_force
from app.web.render import render
from app.web.sessions import maybe_person
from app.web.transactions import Now, Reading

router = APIRouter(dependencies=[Depends(maybe_person)])
_UNITS = frozenset({"d", "mo", "y"})
_KILOGRAMS = re.compile(r"\d{1,3}(\.\d{1,3})?", re.ASCII)
# A ruler that nobody moved stands at the start, and must not pass for a newborn.
_UNMOVED = "0"
_STOPS = "|".join(["", *(spoken(age_of_step(step)) for step in range(1, WALK_STEPS + 1))])


class Asked(BaseModel):
    """An age as written, or the number and the unit of the form, or a place on the ruler."""

    age: Annotated[str, Field(max_length=20)] = ""
    category: Annotated[str, Field(max_length=60)] = ""
    circumstance: Annotated[str, Field(max_length=60)] = ""
    n: Annotated[str, Field(max_length=10)] = ""
    unit: Annotated[str, Field(max_length=5)] = ""
    place: Annotated[str, Field(max_length=5)] = ""
    weight: Annotated[str, Field(max_length=10)] = ""

    @property
    def by_form(self) -> bool:
        return bool(self.unit or self.place)

    def read(self) -> Age:
        """Raises ValueError with words for people."""
        if self.place:
            if not self.place.isascii() or not self.place.isdigit() or self.place == _UNMOVED:
                raise ValueError("slide to the age first, or write 0 and choose days for a newborn")
            return age_of_step(int(self.place))
        if self.by_form:
            number = self.n.strip().replace(",", ".")
            if not number or self.unit not in _UNITS:
                raise ValueError("write a number, then choose days, months or years")
            return Age.parse(f"{number} {self.unit}")
        return Age.parse(self.age.strip())


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
    agency: Agency
    policy: PolicyInForce | None
    ruler: Ruler
    shown: LimitsAt | None = None
    fault: str = ""
    typed: str = ""
    reached: Reached | None = None

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
            return f"/{self.agency.key}/limits"
        age, category = self.shown.age, self.shown.category.key
        asked = {"category": category} if age is None else {"age": str(age)}
        asked |= {"circumstance": circumstance} if circumstance else {}
        return f"/{self.agency.key}/limits?{urlencode(asked)}"


@router.get("/{agency}/limits")
def limits(
    request: Request,
    tx: Reading,
    now: Now,
    agency: str,
    asked: Annotated[Asked, Query()],
) -> Response:
    owner = request.app.state.agencies.of(agency)
    policy = policy_in_force(tx, agency_id=owner.id, now=now)
    if policy is None:
        return _answer(request, "limits/none.html", LimitsPage(owner, None, Ruler()))
    if asked.category and (asked.age or asked.by_form):
        fault = "an age and a category were given; give one of them"
        return _ask(request, owner, policy, fault=fault)
    if asked.category:
        return _shown(
            request, owner, policy, policy.of_category(asked.category, asked.circumstance)
        )
    if asked.weight and not (asked.age or asked.by_form):
        return _by_weight(request, owner, policy, asked.weight)
    if not (asked.age or asked.by_form):
        return _ask(request, owner, policy)
    try:
        age = asked.read()
    except ValueError as error:
        return _ask(request, owner, policy, fault=str(error), typed=asked.n)
    if asked.by_form:
        # One address an age, however it was reached: it can be kept, sent and cached.
        return RedirectResponse(f"/{agency}/limits?{urlencode({'age': str(age)})}", status_code=303)
    return _shown(request, owner, policy, policy.at(age, asked.circumstance))


def _by_weight(request: Request, owner: Agency, policy: PolicyInForce, typed: str) -> Response:
    """Only where nobody knows the age; unless it leaves one category alone, somebody chooses."""
    number = typed.strip().replace(",", ".")
    if not _KILOGRAMS.fullmatch(number):
        return _ask(request, owner, policy, fault="write the weight in kg, such as 12.5")
    try:
        reached = resolve(policy.profile.categories, weight_kg=float(number))
    except Refused as refused:
        return _ask(request, owner, policy, fault=refused.faults[0].reason)
    if reached.category is not None and reached.ask is None:
        shown = policy.of_category(reached.category.key)
        return _shown(request, owner, policy, shown, reached=reached)
    ruler = Ruler.of(policy.profile.categories, None)
    return _answer(
        request, "limits/weighed.html", LimitsPage(owner, policy, ruler, reached=reached)
    )


def _ask(
    request: Request, owner: Agency, policy: PolicyInForce, *, fault: str = "", typed: str = ""
) -> Response:
    ruler = Ruler.of(policy.profile.categories, None)
    page = LimitsPage(owner, policy, ruler, fault=fault, typed=typed)
    return _answer(request, "limits/ask.html", page, status=422 if fault else 200)


def _shown(
    request: Request,
    owner: Agency,
    policy: PolicyInForce,
    shown: LimitsAt,
    *,
    reached: Reached | None = None,
) -> Response:
    ruler = Ruler.of(policy.profile.categories, shown.age)
    page = LimitsPage(owner, policy, ruler, shown, reached=reached)
    return _answer(request, "limits/shown.html", page)


def _answer(request: Request, template: str, page: LimitsPage, *, status: int = 200) -> Response:
    owner, policy = page.agency, page.policy
    response = render(
        request, template, page, status=status, agency_name=owner.name, zone=owner.time_zone
    )
    # The theme and a person's navigation are on the page as well, so its own text decides.
    text = hashlib.sha256(bytes(response.body)).hexdigest()[:16]
    tag = f'"{policy.fingerprint[:16] if policy else "none"}-{text}"'
    headers = {"ETag": tag, "Cache-Control": "private, no-cache", "Vary": "Cookie"}
    if status == 200 and tag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    response.headers.update(headers)
    return response
