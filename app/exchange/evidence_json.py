"""Evidence as JSON, and packed as it is kept."""

import json
import zlib
from typing import Any

from pydantic import TypeAdapter

from app.domain.evidence import Evidence

_SHAPE = TypeAdapter(Evidence)
FORM = "marchstone-evidence/1"


def evidence_json(found: Evidence) -> dict[str, Any]:
    """`synthetic` stands first wherever a cohort was invented."""
    told: dict[str, Any] = _SHAPE.dump_python(found, mode="json")
    return {"form": FORM, "synthetic": found.synthetic, **told}


def packed_evidence(found: Evidence) -> bytes:
    return zlib.compress(json.dumps(evidence_json(found), separators=(",", ":")).encode(), 6)


def unpacked_evidence(kept: bytes) -> Evidence:
    told = json.loads(zlib.decompress(kept))
    if told.pop("form") != FORM:
        raise ValueError("this evidence was kept in another form")
    told.pop("synthetic")
    return _SHAPE.validate_python(told)
