import re
from dataclasses import replace
from datetime import datetime

from sqlmodel import Session

from app.domain.errors import Refused
from app.domain.local_days import local_day
from app.domain.model_records import ModelFacts
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import free_line, line, note
from app.storage import ledger, model_records
from app.storage.agencies import agency_by_id

_KEY = re.compile(r"[a-z0-9][a-z0-9-]{0,59}", re.ASCII)


def record_model(tx: Session, *, key: str, facts: ModelFacts, by: Person, now: datetime) -> None:
    """Before every older record, which is kept; the same facts again leave no trace."""
    check_may(by, Deed.RECORD_MODEL)
    if not _KEY.fullmatch(key):
        told = "use small letters, digits and -, as the policy names it"
        raise Refused.because(told, column="key", value=key)
    facts = _tidy(facts)
    today = local_day(now, agency_by_id(tx, by.agency_id).time_zone)
    if facts.tested_on is not None and facts.tested_on > today:
        raise Refused.because("cannot be in the future", column="tested_on")
    known = model_records.latest_records(tx, by.agency_id).get(key)
    if known is not None and known.facts == facts:
        return
    model_records.add_record(tx, key, facts, by=by, now=now)
    about = {"model": key} | model_records.facts_document(facts)
    about["tested_on"] = None if facts.tested_on is None else facts.tested_on.isoformat()
    ledger.append(
        tx, agency=by.agency, did="record a device model", by=by.username, at=now, about=about
    )


def _tidy(facts: ModelFacts) -> ModelFacts:
    return replace(
        facts,
        label=line(facts.label, column="label"),
        presets=tuple(dict.fromkeys(line(name, column="presets") for name in facts.presets)),
        software=free_line(facts.software, column="software"),
        tested_by=free_line(facts.tested_by, column="tested_by"),
        audible=note(facts.audible, column="audible"),
        note=note(facts.note),
    )
