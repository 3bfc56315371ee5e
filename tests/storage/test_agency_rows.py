"""A new table must say whose its rows are, or they would be missing from an exported agency."""

from sqlmodel import SQLModel

from app.domain.finding_life import FindingStatus
from app.storage.agency_rows import OF_THE_INSTALLATION, OF_THE_MOMENT, belongs, rows_of_agency
from app.storage.database import Database
from tests.actions.test_findings import a_finding
from tests.builders import HOUR, NOW, a_report, olu
from tests.storage.whole_databases import everything


def test_every_table_leads_to_an_agency_or_is_named() -> None:
    for table in SQLModel.metadata.sorted_tables:
        if table.name not in OF_THE_INSTALLATION | OF_THE_MOMENT:
            belongs(table, "skerry")  # raises LookupError otherwise


def test_the_agencies_share_the_rows_between_them(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        a_finding(tx, FindingStatus.CLOSED)
        a_report(tx, read_at=NOW + HOUR)
        olu(tx)

    with sqlite_database.reading() as tx:
        parts = {
            key: {name: len(tx.execute(query).all()) for name, query in rows_of_agency(key).items()}
            for key in ("skerry", "elsewhere")
        }
    whole = {name: len(rows) for name, rows in everything(sqlite_database).items()}
    assert parts["skerry"]["finding"] == 1
    assert parts["elsewhere"]["person"] == 1
    assert {name: parts["skerry"][name] + parts["elsewhere"][name] for name in parts["skerry"]} == {
        name: count for name, count in whole.items() if name in parts["skerry"]
    }
