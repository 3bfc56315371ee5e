"""Only what deviates; the signed value is in the revision, the value found in the report."""

from collections import defaultdict
from collections.abc import Collection, Sequence

from sqlmodel import Field, Session, col, select

from app.domain.comparison import Direction
from app.domain.findings import Severity
from app.domain.fleet import Verdicts
from app.storage.among import among
from app.storage.base import Row, filled, one_of


class DeviationRow(Row, table=True):
    __tablename__ = "deviation"
    __table_args__ = (
        filled("alarm"),
        one_of("direction", Direction),
        one_of("severity", Severity),
    )

    report_id: int = Field(foreign_key="report.id", primary_key=True)
    alarm: str = Field(primary_key=True)
    direction: str
    severity: str


def add_deviations(tx: Session, *, report_id: int, verdicts: Verdicts) -> None:
    tx.add_all(
        DeviationRow(
            report_id=report_id,
            alarm=alarm,
            direction=direction.value,
            severity=severity.value,
        )
        for alarm, (direction, severity) in verdicts.items()
    )
    tx.flush()


def verdicts_of(tx: Session, report_ids: Sequence[int]) -> dict[int, Verdicts]:
    """By report; a report without deviations has an empty entry."""
    if not report_ids:
        return {}
    found = deviating(tx, report_ids)
    return {report_id: found.get(report_id, {}) for report_id in report_ids}


def deviating(tx: Session, report_ids: Collection[int]) -> dict[int, Verdicts]:
    """Of those reports that deviate; in one statement."""
    row = DeviationRow
    wanted = (
        select(row.report_id, row.alarm, row.direction, row.severity)
        .where(among(tx, col(row.report_id), report_ids))
        .order_by(row.alarm)
    )
    found: dict[int, dict[str, tuple[Direction, Severity]]] = defaultdict(dict)
    for report_id, alarm, direction, severity in tx.exec(wanted):
        found[report_id][alarm] = (Direction(direction), Severity(severity))
    return dict(found)
