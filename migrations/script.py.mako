"""${message}

Before you commit this file, mind what the machine does not see:
- a CHECK whose text changed, a renamed column (it drops and adds), values inside a column;
- a new NOT NULL column needs a server_default, or tables with rows refuse it;
- every CHECK carries a name, or SQLite's table rebuild drops it;
- nothing is imported from app: this file must mean the same in ten years;
- there is no way down: whoever must go back restores the backup made before the upgrade;
- it runs on SQLite and on PostgreSQL, and on a database with years of reports in it.
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op
${imports if imports else ""}

revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}
branch_labels = ${repr(branch_labels)}
depends_on = ${repr(depends_on)}


def upgrade() -> None:
    ${upgrades if upgrades else "pass"}
