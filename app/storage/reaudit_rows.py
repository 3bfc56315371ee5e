"""What a re-audit needs of the findings that stand already, and of the reports that tell."""

import json
from collections.abc import Sequence

import sqlalchemy as sa
from sqlmodel import Session, col

from app.domain.finding_life import FindingKind, FindingStatus
from app.domain.findings import Severity
from app.storage.base import batches
from app.storage.device_presets import DevicePresetsRow
from app.storage.devices import DeviceRow
from app.storage.devices_now import preset_from
from app.storage.finding_rows import FindingRow

Place = tuple[str, str, str]
"""Device, preset and alarm."""


def standing_findings(tx: Session, agency_id: int) -> dict[Place, tuple[int, Severity]]:
    """What a device holds and nobody has closed: its number and how grave it is."""
    row = FindingRow
    wanted = (
        sa.select(
            col(DeviceRow.tag), col(row.preset), col(row.alarm), col(row.id), col(row.severity)
        )
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .where(
            col(row.agency_id) == agency_id,
            col(row.kind) == FindingKind.HELD.value,
            col(row.status) != FindingStatus.CLOSED.value,
        )
    )
    return {
        (tag, preset, alarm): (number, Severity(severity))
        for tag, preset, alarm, number, severity in tx.execute(wanted)
    }


def telling_by_preset(
    tx: Session, agency_id: int, tags: Sequence[str]
) -> dict[tuple[str, str], int]:
    """By device and preset the report whose values are known."""
    found = {}
    for some in batches(tags):
        wanted = (
            sa.select(col(DeviceRow.tag), col(DevicePresetsRow.presets))
            .join(DevicePresetsRow, col(DevicePresetsRow.device_id) == col(DeviceRow.id))
            .where(col(DeviceRow.agency_id) == agency_id, col(DeviceRow.tag).in_(some))
        )
        for tag, presets in tx.execute(wanted):
            for preset, short in json.loads(presets).items():
                found[tag, preset] = preset_from(short).report
    return found


def standing_number(tx: Session, device_id: int, *, preset: str, alarm: str) -> int:
    row = FindingRow
    wanted = sa.select(col(row.id)).where(
        col(row.device_id) == device_id,
        col(row.preset) == preset,
        col(row.alarm) == alarm,
        col(row.kind) == FindingKind.HELD.value,
        col(row.status) != FindingStatus.CLOSED.value,
    )
    number: int = tx.execute(wanted).scalar_one()
    return number
