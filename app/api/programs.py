"""Everything that programs may ask for."""

from app.api import (
    changeover,
    devices,
    finding_moves,
    findings,
    limits,
    outer_bounds,
    papers,
    profile_sheets,
    quarantines,
    redlines,
    reports,
    revision_desk,
    revision_moves,
    revisions,
)

APIS = (
    revisions,
    revision_desk,
    revision_moves,
    redlines,
    devices,
    reports,
    changeover,
    findings,
    finding_moves,
    quarantines,
    limits,
    outer_bounds,
    papers,
    profile_sheets,
)
