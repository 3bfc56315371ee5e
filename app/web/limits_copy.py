"""The copy of the limits in force that a phone keeps: every category under every circumstance, as
the look-up shows it, with what it takes to find the category of an age."""

import base64
import gzip
import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.domain.agencies import Agency
from app.domain.patient_categories import PatientCategory
from app.domain.published_rows import PublishedRow, PublishedSign, published_signs
from app.domain.weight_ages import HEAVY, LIGHT, MEDIANS
from app.lookups import agencies
from app.lookups.limits import PolicyShown, ends_at, policy_to_show
from app.web.crew_codes import check_crew
from app.web.limits_pages import LimitsPage, Ruler
from app.web.render import render, rendered, static_address
from app.web.sessions import MaybePerson
from app.web.transactions import Now, Reading

router = APIRouter()
FORMAT = "marchstone-limits-copy/1"
_TYPED, _TOLD = 3, 6  # digits of a kilogram
NONE = (
    "{name} has no signed revision in force now, so no limit is shown. Use your printed card or "
    "local protocol, and tell your medical director."
)
_ASSETS = ("app.css", "limits.css", "app.js", "crew_ages.js", "crew_weights.js")
_CHECKS = (
    "reading.css",
    "reading.js",
    "keypad.js",
    "check_queue.js",
    "shift_check.js",
)
_FILES = (*_ASSETS, *_CHECKS, "crew.js", "stone.svg")


@dataclass(frozen=True)
class WorkerPage:
    """`version` changes with any file that it keeps, so the phone takes all of them anew."""

    assets: list[str]
    version: str


@router.get("/sw.js")
def worker(request: Request) -> Response:
    assets = [static_address(name) for name in _FILES]
    version = hashlib.sha256(" ".join(assets).encode()).hexdigest()[:12]
    text = rendered(request, "sw.js", WorkerPage(assets, version))
    headers = {"Cache-Control": "no-cache", "Service-Worker-Allowed": "/"}
    body = text.encode()
    if "gzip" in request.headers.get("accept-encoding", ""):
        body = gzip.compress(body, mtime=0)
        headers |= {"Content-Encoding": "gzip", "Vary": "Accept-Encoding"}
    return Response(body, media_type="text/javascript", headers=headers)


@router.get("/{agency}/limits/kept")
def shell(request: Request, agency: str) -> Response:
    """The page that shows the copy; nothing of a policy is in it, and nothing of a person."""
    owner = request.app.state.agencies.of(agency)
    return render(request, "limits/kept.html", owner, agency_name=owner.name, zone=owner.time_zone)


@router.get("/{agency}/limits/copy.json")
def copy(request: Request, _: MaybePerson, tx: Reading, now: Now, agency: str) -> Response:
    """Its digest is sent along, so that a copy that arrives in part is known for one."""
    owner = agencies.agency(tx, key=agency)  # as it has chosen by now
    check_crew(request, tx, owner)
    policy = policy_to_show(tx, agency_id=owner.id, now=now)
    following = None if policy is None else ends_at(tx, agency_id=owner.id, now=now)
    packed = _packed(request, owner, policy, following)
    headers = {
        "ETag": packed.tag,
        "Cache-Control": "no-cache",
        "Vary": "Accept-Encoding",
        "Repr-Digest": f"sha-256=:{packed.digest}:",
    }
    if packed.tag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    if "gzip" in request.headers.get("accept-encoding", ""):
        headers["Content-Encoding"] = "gzip"
        return Response(packed.zipped, media_type="application/json", headers=headers)
    return Response(packed.plain, media_type="application/json", headers=headers)


@dataclass(frozen=True)
class _Packed:
    made_from: tuple[object, ...]
    plain: bytes
    zipped: bytes
    tag: str
    digest: str


def _packed(
    request: Request, owner: Agency, policy: PolicyShown | None, following: datetime | None
) -> _Packed:
    """Made once for whatever is in it; every phone of the agency asks for the same."""
    known: dict[str, _Packed] = request.app.state.limit_copies
    made_from = (owner, following, *_made_from(policy))
    held = known.get(owner.key)
    if held is None or held.made_from != made_from:
        held = _made(request, owner, policy, following, made_from)
        known[owner.key] = held
    return held


def _made_from(policy: PolicyShown | None) -> tuple[object, ...]:
    if policy is None:
        return ()
    standing = policy.overdue, policy.today, policy.withdrawn_at
    return policy.fingerprint, policy.number, policy.waivers, *standing


def _made(
    request: Request,
    owner: Agency,
    policy: PolicyShown | None,
    following: datetime | None,
    made_from: tuple[object, ...],
) -> _Packed:
    content = _head(owner, policy, following)
    if policy is not None:
        content |= _content(request, owner, policy)
    plain = json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()
    digest = hashlib.sha256(plain).digest()
    return _Packed(
        made_from,
        plain,
        gzip.compress(plain, mtime=0),
        f'"{digest.hex()[:24]}"',
        base64.b64encode(digest).decode(),
    )


def _head(owner: Agency, policy: PolicyShown | None, following: datetime | None) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "agency": owner.key,
        "name": owner.name,
        "fresh_hours": owner.choices.copy_hours,
        "revision": None if policy is None else policy.number,
        "fingerprint": None if policy is None else policy.fingerprint,
        "ends_at": None if following is None else following.isoformat(),
        "none": NONE.format(name=owner.name),
        "withdrawn": policy is not None and policy.withdrawn_at is not None,
        "expires_after": _expires_after(policy),
    }


def _expires_after(policy: PolicyShown | None) -> str | None:
    """The last day, where the phone must tell by itself that it has passed."""
    if policy is None or policy.review_by is None or policy.expired:
        return None
    return policy.review_by.isoformat()


def _content(request: Request, owner: Agency, policy: PolicyShown) -> dict[str, Any]:
    ruler = Ruler.of(policy.profile.categories, None)
    chooser = _piece(request, "limits/_chooser.html", LimitsPage(owner, policy, ruler))
    return {
        "categories": [_category(one) for one in policy.profile.categories],
        "stops": ruler.ages.split("|"),
        "chooser": chooser,
        "standing": _piece(request, "limits/_standing.html", LimitsPage(owner, policy, ruler)),
        "models": {
            model: {
                one.key: _on_model(request, owner, policy, ruler, one.key, model)
                for one in policy.profile.categories
            }
            for model in policy.profile.models
        },
        "limits": {
            one.key: {
                circumstance: _limits(request, owner, policy, ruler, one.key, circumstance)
                for circumstance in ("", *_circumstances(policy, one.key))
            }
            for one in policy.profile.categories
        },
        "published": [_published(one) for one in published_signs()],
        "weights": {
            name: [_brief(kg) for kg in curve]
            for name, curve in (("medians", MEDIANS), ("light", LIGHT), ("heavy", HEAVY))
        },
    }


def _brief(kg: float) -> float:
    """As short as parts typed weights the same way."""
    told = round(kg, _TOLD)
    return kg if told == round(kg, _TYPED) else told


def _category(one: PatientCategory) -> dict[str, str | None]:
    start, end = one.span.words()
    return {"key": one.key, "label": one.label, "from": start, "to": end}


def _circumstances(policy: PolicyShown, category: str) -> list[str]:
    return [one.key for one in policy.profile.circumstances if category in one.applies_to]


def _limits(
    request: Request,
    owner: Agency,
    policy: PolicyShown,
    ruler: Ruler,
    category: str,
    circumstance: str,
) -> str:
    shown = policy.of_category(category, circumstance)
    return _piece(request, "limits/_body.html", LimitsPage(owner, policy, ruler, shown))


def _on_model(
    request: Request, owner: Agency, policy: PolicyShown, ruler: Ruler, category: str, model: str
) -> str:
    """The phone shows the policy's own numbers, so what the model shows otherwise is told."""
    shown = policy.of_category(category)
    page = LimitsPage(owner, policy, ruler, shown, model=model)
    return _piece(request, "limits/_on_model.html", page)


def _piece(request: Request, template: str, page: LimitsPage) -> str:
    owner = page.agency
    text = rendered(request, template, page, agency_name=owner.name, zone=owner.time_zone)
    return " ".join(text.split())


def _published(one: PublishedSign) -> dict[str, Any]:
    return {
        "sign": one.sign,
        "unit": one.unit,
        "source": one.source,
        "birth": None if one.at_birth is None else _ends(one.at_birth),
        "rows": [[*row.span.words(), *_ends(row)] for row in one.rows],
    }


def _ends(row: PublishedRow) -> list[str]:
    return [f"{row.low:g}", f"{row.high:g}"]
