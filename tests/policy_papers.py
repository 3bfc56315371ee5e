"""A policy paper put together without a database: worked settings on two invented models."""

from dataclasses import replace
from datetime import date
from typing import Any

from app.domain.agencies import Agency
from app.domain.corridor import corridor
from app.domain.findings import Finding, Severity
from app.domain.moves import RevisionStatus
from app.domain.papers import LedgerPlace, PolicyPaper
from app.domain.profiles import Profile
from app.domain.revisions import Author, Review, Signature, StoredRevision
from app.domain.waivers import Waiver, finding_key
from app.exchange.profile_json import profile_from_document
from tests.builders import DAY, HOUR, NOW
from tests.worked_profiles import five_categories, on

BASE = "https://marchstone.example.org"
SKERRY = Agency(1, "skerry", "Skerry Ambulance", "Europe/London")
_HEAD, _SIGNING = "5e" * 32, "a1" * 32


def document() -> dict[str, Any]:
    """Every state, both kinds of line, a circumstance, options and two models that must round."""
    found = five_categories()
    child = found["settings"]["child"]
    child["heart-rate-low"] = on(
        61,
        priority="high",
        delay_s=5,
        latching=True,
        deep={"limit": 41, "priority": "high", "delay_s": 0},
        latitude={"from": 50, "to": 70, "off_by": "medical-control"},
        reason="slow hearts of school children",
        source="invented for this test",
    )
    child["etco2-low"] = on(30, delay_s=10)
    child["asystole"] = on(None, priority="high", latching=True)
    child["apnoea"] = on(20, priority="high")
    child["spo2-high"] = {"state": "off", "reason": "no oxygen target at this age"}
    child["ibp-mean-low"] = {"state": "not-fitted"}
    child["temperature-high"] = {"state": "no-policy"}
    return found | {
        "circumstances": [
            {
                "key": "hypercapnia-risk",
                "label": "Hypercapnia risk",
                "applies_to": ["adult"],
                "settings": {"spo2-low": on(86)},
            }
        ],
        "options": {"longest-pause-s": {"value": 120, "reason": "long enough to move a patient"}},
        "models": {"turnstone": _TURNSTONE, "petrel": _PETREL},
    }


_TURNSTONE = {
    "presets": {
        key.upper(): {"carries": key, "serves": [key]}
        for key in ("neonate", "infant", "young-child", "child", "adult")
    },
    "grid": {"heart-rate-low": {"from": 20, "to": 250, "step": 5, "can_be_off": True}},
    "etco2_unit": "kPa",
    "retention_min": 5,
}
_PETREL = {
    "presets": {
        "SMALL": {"carries": "infant", "serves": ["neonate", "infant", "young-child"]},
        "LARGE": {"carries": "adult", "serves": ["child", "adult"]},
    },
    "grid": {"spo2-high": {"from": 50, "to": 100, "step": 1, "can_be_off": False}},
}


def profile() -> Profile:
    return profile_from_document(document())


SILENT = Finding(
    rule="silent-gap",
    severity=Severity.UNSAFE,
    category="child",
    alarms=("heart-rate-high", "pulse-rate-high"),
    ages=None,
    message="Child: Heart rate can rise unannounced",
    source="invented",
)
WAIVER = Waiver(
    finding=finding_key(SILENT),
    rule=SILENT.rule,
    category="child",
    alarms=SILENT.alarms,
    circumstance="",
    ages="",
    message=SILENT.message,
    reason="until the new boxes are here",
    by_name="Dana",
    waived_at=NOW - HOUR,
    until=date(2026, 3, 31),
)


def signed_paper(**changed: Any) -> PolicyPaper:
    """In force; `changed` replaces what the revision says."""
    found = profile()
    signature = Signature(
        person_id=3,
        username="dana",
        name="Dana Sund",
        roles=("medical-director",),
        at=NOW - HOUR,
        meaning="This is our policy.",
        fingerprint=found.fingerprint,
    )
    revision = StoredRevision(
        id=1,
        number=7,
        status=RevisionStatus.SIGNED,
        fingerprint=found.fingerprint,
        edit_version=1,
        created_at=NOW - 9 * DAY,
        changed_at=NOW - HOUR,
        signed_at=NOW - HOUR,
        in_force_at=NOW - HOUR,
        review_by=date(2027, 3, 2),
        document="",
        authors=(Author(1, "Anna Reyne"),),
        review=Review(2, "Ravi Calder", NOW - DAY),
        signatures=(signature,),
    )
    return PolicyPaper(
        agency=SKERRY,
        revision=replace(revision, **changed).as_of(NOW),
        profile=found,
        bounds="version 2, signed by Dana Sund",
        findings=(SILENT,),
        waivers=(WAIVER,),
        corridor=corridor(found),
        head=LedgerPlace(41, _HEAD),
        signing=LedgerPlace(39, _SIGNING),
        printed_at=NOW,
    )


def draft_paper(**changed: Any) -> PolicyPaper:
    nothing: dict[str, Any] = {
        "status": RevisionStatus.DRAFT,
        "signed_at": None,
        "in_force_at": None,
        "review_by": None,
        "signatures": (),
        "review": None,
    }
    return replace(signed_paper(**(nothing | changed)), signing=None, waivers=())
