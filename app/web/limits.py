"""The look-up: limits in force by age or category, for anybody, on any phone."""

import hashlib
import re
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field

from app.domain.age_axis import age_of_step
from app.domain.agencies import Agency
from app.domain.ages import Age
from app.domain.errors import NotFound, Refused
from app.domain.look_up import LimitsAt
from app.domain.reaching import Reached, resolve
from app.lookups.limits import PolicyShown, policy_to_show
from app.web.crew_codes import check_crew
from app.web.limits_pages import LimitsPage, Ruler
from app.web.render import render
from app.web.sessions import maybe_person
from app.web.transactions import Now, Reading

router = APIRouter(dependencies=[Depends(maybe_person)])
_UNITS = frozenset({"d", "mo", "y"})
_KILOGRAMS = re.compile(r"\d{1,3}(\.\d{1,3})?", re.ASCII)
# A ruler that nobody moved stands at the start, and must not pass for a newborn.
_UNMOVED = "0"


class Asked(BaseModel):
    """An age as written, or the number and the unit of the form, or a place on the ruler."""

    age: Annotated[str, Field(max_length=20)] = ""
    category: Annotated[str, Field(max_length=60)] = ""
    circumstance: Annotated[str, Field(max_length=60)] = ""
    n: Annotated[str, Field(max_length=10)] = ""
    unit: Annotated[str, Field(max_length=5)] = ""
    place: Annotated[str, Field(max_length=5)] = ""
    weight: Annotated[str, Field(max_length=10)] = ""
    model: Annotated[str, Field(max_length=60)] = ""

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


@router.get("/{agency}/limits")
def limits(
    request: Request,
    tx: Reading,
    now: Now,
    agency: str,
    asked: Annotated[Asked, Query()],
) -> Response:
    owner = request.app.state.agencies.of(agency)
    check_crew(request, tx, owner)
    policy = policy_to_show(tx, agency_id=owner.id, now=now)
    if policy is None:
        return _answer(request, "limits/none.html", LimitsPage(owner, None, Ruler()))
    answers = _Answers(request, owner, policy, asked.model)
    try:
        return answers.to(asked)
    except NotFound as error:  # an address kept from another revision leads on to the limits
        return answers.without(error.message)


@dataclass(frozen=True)
class _Answers:
    request: Request
    owner: Agency
    policy: PolicyShown
    model: str

    def to(self, asked: Asked) -> Response:
        by_age = bool(asked.age or asked.by_form)
        if asked.category and by_age:
            return self._ask(fault="an age and a category were given; give one of them")
        if asked.category:
            found = self.policy.of_category(asked.category, asked.circumstance, self.model)
            return self._shown(found)
        if by_age:
            return self._by_age(asked)
        return self._by_weight(asked.weight) if asked.weight else self._ask()

    def without(self, gone: str) -> Response:
        known = self.model if self.model in self.policy.profile.models else ""
        page = replace(self._page(), gone=gone, model=known)
        return _answer(self.request, "limits/ask.html", page, status=404)

    def _by_age(self, asked: Asked) -> Response:
        try:
            age = asked.read()
        except ValueError as error:
            return self._ask(fault=str(error), typed=asked.n)
        if asked.by_form:
            # One address an age, however it was reached: it can be kept, sent and cached.
            address = self._page().asking(age=str(age))
            return RedirectResponse(address, status_code=303)
        return self._shown(self.policy.at(age, asked.circumstance, self.model))

    def _by_weight(self, typed: str) -> Response:
        """Only where nobody knows the age; unless it leaves one category alone, somebody
        chooses."""
        number = typed.strip().replace(",", ".")
        if not _KILOGRAMS.fullmatch(number):
            return self._ask(fault="write the weight in kg, such as 12.5")
        try:
            reached = resolve(self.policy.profile.categories, weight_kg=float(number))
        except Refused as refused:
            return self._ask(fault=refused.faults[0].reason)
        if reached.category is not None and reached.ask is None:
            shown = self.policy.of_category(reached.category.key, model=self.model)
            return self._shown(shown, reached=reached)
        return _answer(self.request, "limits/weighed.html", self._page(reached=reached))

    def _ask(self, *, fault: str = "", typed: str = "") -> Response:
        page = self._page(fault=fault, typed=typed)
        return _answer(self.request, "limits/ask.html", page, status=422 if fault else 200)

    def _shown(self, shown: LimitsAt, *, reached: Reached | None = None) -> Response:
        return _answer(self.request, "limits/shown.html", self._page(shown, reached=reached))

    def _page(
        self,
        shown: LimitsAt | None = None,
        *,
        reached: Reached | None = None,
        fault: str = "",
        typed: str = "",
    ) -> LimitsPage:
        ruler = Ruler.of(self.policy.profile.categories, None if shown is None else shown.age)
        return LimitsPage(
            self.owner, self.policy, ruler, shown, fault, typed, reached, model=self.model
        )


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
