"""Findings with owner, cause, acceptance, quarantine and everything that was said."""

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    pass
