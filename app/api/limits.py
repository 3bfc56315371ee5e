"""The look-up for programs: open to everybody who knows the agency's address, as its page is."""

from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field

from app.api.access import AgencyKey, Now, Reading, member, problems
from app.domain.ages import Age
from app.domain.errors import NotFound, Refused
from app.domain.look_up import LimitsAt, SignLimits, StatedAlarm
from app.domain.settings_of_alarms import DeepLine, Latitude, On, as_number
from app.lookups.crew_codes import crew_code_asked
from app.lookups.limits import PolicyShown, policy_in_force

router = APIRouter(tags=["look-up"])
CAUTION = (
    "This is the agency's own alarm-limit policy and no advice for a patient. "
    "Local protocol and licensed judgement rule."
)
Number = int | float


class DeepLineShape(BaseModel):
    limit: Number
    unit: str | None
    priority: str | None
    delay_s: Number | None


class LatitudeShape(BaseModel):
    from_: Number | None = Field(serialization_alias="from")
    to: Number | None
    off_by: str = Field(description="Who may switch it off: nobody, crew or medical-control.")


class WaivedShape(BaseModel):
    """Something unsafe about this alarm that the medical director accepts for a time."""

    message: str
    reason: str
    by: str
    until: date = Field(description="The last day; a waiver that ended takes no limit back.")


class AlarmShape(BaseModel):
    alarm: str
    state: str = Field(description="on, off, not-fitted or no-policy")
    limit: Number | None = Field(default=None, description="None where the alarm has none.")
    unit: str | None = Field(default=None, description="UCUM")
    priority: str | None = None
    delay_s: Number | None = None
    latching: bool | None = None
    deep: DeepLineShape | None = None
    latitude: LatitudeShape | None = None
    reason: str = ""
    waivers: list[WaivedShape] = []


class NeighbourShape(BaseModel):
    category: str
    edge: str
    begins_ahead: bool


class PublishedShape(BaseModel):
    vital_sign: str
    p01: float
    p99: float
    source: str


class LimitsShape(BaseModel):
    caution: str
    revision: int
    fingerprint: str
    in_force_at: datetime
    category: str
    ages: list[str | None] = Field(description="From and to; half-open, None is open.")
    reached_by: str = Field(description="age or category")
    age: str | None
    near: NeighbourShape | None = Field(description="The category across an edge close by.")
    alarms: list[AlarmShape]
    overdue: list[str] = Field(description="What the agency must still do; the limits hold.")
    published: list[PublishedShape] = Field(description="Of healthy people of exactly that age.")


@router.get(
    "/{agency}/limits",
    summary="The limits in force for an age or a category",
    responses=problems(
        _401="The agency asks for a crew code: sign in or send a token.",
        _404="No such agency, category, circumstance or model, or no revision is in force.",
        _422="Neither or both were given, or the age cannot be read.",
    ),
)
def limits(
    request: Request,
    tx: Reading,
    now: Now,
    agency: AgencyKey,
    age: Annotated[str, Query(max_length=20, description="Such as `28 d`, `7 mo` or `16 y`.")] = "",
    category: Annotated[str, Query(max_length=60, description="A category's key.")] = "",
    circumstance: Annotated[str, Query(max_length=60, description="A circumstance's key.")] = "",
    model: Annotated[
        str, Query(max_length=60, description="A device model: its units and steps are shown.")
    ] = "",
) -> LimitsShape:
    """Give an age or a category; there is no default, least of all adult."""
    if bool(age) == bool(category):
        raise Refused.because("give an age or a category, and not both", column="age")
    owner = request.app.state.agencies.of(agency)
    if crew_code_asked(tx, agency_id=owner.id):
        member(request, agency, tx, now)
    policy = policy_in_force(tx, agency_id=owner.id, now=now)
    if policy is None:
        raise NotFound("No revision is in force, so there are no limits.")
    if category:
        return _shape(policy, policy.of_category(category, circumstance, model))
    return _shape(policy, policy.at(_age(age), circumstance, model))


def _age(text: str) -> Age:
    try:
        return Age.parse(text)
    except ValueError as error:
        raise Refused.because(str(error), column="age", value=text) from None


def _shape(policy: PolicyShown, found: LimitsAt) -> LimitsShape:
    signs = [*found.first, *found.rest]
    stated = [alarm for sign in signs for alarm in (sign.low, sign.high)]
    stated += [*found.first_events, *found.rest_events]
    return LimitsShape(
        caution=CAUTION,
        revision=policy.number,
        fingerprint=policy.fingerprint,
        in_force_at=policy.in_force_at,
        category=found.category.key,
        ages=found.category.span.words(),
        reached_by="category" if found.age is None else "age",
        age=None if found.age is None else str(found.age),
        near=_near(found),
        alarms=[_alarm(one, policy, found) for one in stated if one.setting is not None],
        overdue=[warning.words for warning in policy.overdue],
        published=[_published(sign) for sign in signs if sign.published is not None],
    )


def _near(found: LimitsAt) -> NeighbourShape | None:
    near = found.neighbour
    if near is None:
        return None
    return NeighbourShape(category=near.category.key, edge=str(near.edge), begins_ahead=near.ahead)


def _published(sign: SignLimits) -> PublishedShape:
    assert sign.published is not None  # noqa: S101 - asked by the caller
    return PublishedShape(
        vital_sign=sign.key,
        p01=sign.published.low,
        p99=sign.published.high,
        source=sign.published.source,
    )


def _alarm(stated: StatedAlarm, policy: PolicyShown, found: LimitsAt) -> AlarmShape:
    setting, key = stated.setting, stated.condition.key
    assert setting is not None  # noqa: S101 - asked by the caller
    waivers = [
        WaivedShape(message=one.message, reason=one.reason, by=one.by_name, until=one.until)
        for one in policy.waived(found.category.key, key)
    ]
    if not isinstance(setting, On):
        return AlarmShape(alarm=key, state=setting.state, reason=setting.reason, waivers=waivers)
    return AlarmShape(
        alarm=key,
        state=setting.state,
        limit=None if setting.limit is None else as_number(setting.limit),
        unit=None if setting.limit is None else setting.unit or stated.condition.unit,
        priority=setting.priority,
        delay_s=None if setting.delay_s is None else as_number(setting.delay_s),
        latching=setting.latching,
        deep=_deep(setting.deep),
        latitude=_latitude(setting.latitude),
        reason=setting.reason,
        waivers=waivers,
    )


def _deep(deep: DeepLine | None) -> DeepLineShape | None:
    if deep is None:
        return None
    return DeepLineShape(
        limit=as_number(deep.limit),
        unit=deep.unit,
        priority=deep.priority,
        delay_s=None if deep.delay_s is None else as_number(deep.delay_s),
    )


def _latitude(given: Latitude | None) -> LatitudeShape | None:
    if given is None:
        return None
    return LatitudeShape(
        from_=None if given.start is None else as_number(given.start),
        to=None if given.end is None else as_number(given.end),
        off_by=given.off_by,
    )
