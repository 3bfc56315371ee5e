from typing import Any

import sqlalchemy as sa

from app.domain.natural_order import natural
from app.storage.database import Database
from app.storage.devices import DeviceRow
from app.storage.natural_columns import natural_columns
from tests.builders import a_device, an_agency

TAGS = ["boat-10", "Boat-3", "air-12", "boat-2", "boat-02", "boat-2b", "kit", "7-b", "10-a"]


def test_the_database_counts_as_people_do(database: Database) -> None:
    with database.writing() as tx:
        an_agency(tx)
        for name in TAGS:
            a_device(tx, name)
        tag: Any = sa.column("tag")
        wanted = sa.select(tag).select_from(DeviceRow).order_by(*natural_columns(tag))

        found = list(tx.execute(wanted).scalars())

    assert found == sorted(TAGS, key=natural)
