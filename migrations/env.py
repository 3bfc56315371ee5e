"""Called by Alembic: by the program at every start, or by a developer's `alembic` command."""

import os

from alembic import context
from sqlalchemy import Connection
from sqlmodel import SQLModel

import app.storage.tables  # noqa: F401 -- fills the metadata
from app.settings import Settings
from app.storage.engine import for_writing, make_engine


def run(connection: Connection) -> None:
    context.configure(
        connection=connection,
        target_metadata=SQLModel.metadata,
        render_as_batch=True,
        compare_server_default=True,
    )
    with context.begin_transaction():
        context.run_migrations()


def run_for_developer() -> None:
    """`alembic revision --autogenerate` compares with the database of the settings."""
    engine = for_writing(make_engine(Settings.from_environment(os.environ).database_url))
    with engine.begin() as connection:
        run(connection)
    engine.dispose()


given: Connection | None = context.config.attributes.get("connection")
if given is None:
    run_for_developer()
else:
    run(given)
