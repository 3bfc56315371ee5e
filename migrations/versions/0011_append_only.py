"""The ledger takes new entries and nothing else, whoever asks."""

from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

_WHY = "the ledger is append-only"
_BACK = "NEW.agency <> OLD.agency OR NEW.seq NOT IN (OLD.seq, OLD.seq + 1)"
"""The head moves one entry at a time: first its number, then the hash of what was written."""


def upgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        _on_postgresql()
    else:
        _on_sqlite()


def _on_sqlite() -> None:
    for table, deed, when in (
        ("ledger", "update", "1"),
        ("ledger", "delete", "1"),
        ("ledger_head", "update", _BACK),
        ("ledger_head", "delete", "1"),
    ):
        op.execute(
            f"CREATE TRIGGER {table}_no_{deed} BEFORE {deed.upper()} ON {table} "
            f"WHEN {when} BEGIN SELECT RAISE(ABORT, '{_WHY}'); END"
        )
    # INSERT OR REPLACE deletes without asking a trigger for DELETE.
    for table, same in (
        ("ledger", "agency = NEW.agency AND seq = NEW.seq OR hash = NEW.hash"),
        ("ledger_head", "agency = NEW.agency"),
    ):
        op.execute(
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "  # noqa: S608 - our names
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) "
            f"BEGIN SELECT RAISE(ABORT, '{_WHY}'); END"
        )


def _on_postgresql() -> None:
    op.execute(
        "CREATE FUNCTION ledger_is_append_only() RETURNS trigger LANGUAGE plpgsql AS $$ "
        f"BEGIN RAISE EXCEPTION '{_WHY}' USING ERRCODE = 'integrity_constraint_violation'; "
        "END $$"
    )
    for table, deed, each in (
        ("ledger", "update", "ROW"),
        ("ledger", "delete", "ROW"),
        ("ledger", "truncate", "STATEMENT"),
        ("ledger_head", "update", f"ROW WHEN ({_BACK})"),
        ("ledger_head", "delete", "ROW"),
        ("ledger_head", "truncate", "STATEMENT"),
    ):
        op.execute(
            f"CREATE TRIGGER {table}_no_{deed} BEFORE {deed.upper()} ON {table} "
            f"FOR EACH {each} EXECUTE FUNCTION ledger_is_append_only()"
        )
