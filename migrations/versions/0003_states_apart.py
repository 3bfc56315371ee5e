"""What is known of a preset is kept by the state it was read in."""

import json

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_NOW = sa.table("device_now", sa.column("device_id"), sa.column("presets"))
_REPORT = sa.table("report", sa.column("id"), sa.column("state_read"))


def upgrade() -> None:
    bind = op.get_bind()
    for device, presets in bind.execute(sa.select(_NOW.c.device_id, _NOW.c.presets)).all():
        known = {name: _by_state(bind, short) for name, short in json.loads(presets).items()}
        bind.execute(
            sa.update(_NOW).where(_NOW.c.device_id == device).values(presets=json.dumps(known))
        )


def _by_state(bind: sa.Connection, short: dict[str, object]) -> dict[str, object]:
    wanted = sa.select(_REPORT.c.state_read).where(_REPORT.c.id == short["report"])
    return {bind.execute(wanted).scalar_one(): short}
