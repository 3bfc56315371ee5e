import csv
import io
from typing import Any

import pytest

from app.domain.clearances import Clearance, ClearanceState
from app.domain.devices import Device
from app.domain.errors import Refused
from app.domain.known_devices import DeviceStatus, Mark
from app.domain.new_devices import NewDevice
from app.domain.register_filter import Registered
from app.exchange.formula_safe import safe_cell
from app.exchange.register_csv import MOST_DEVICES, read_devices, register_csv

HEADER = "tag,model,station,spare,software\n"


@pytest.mark.parametrize("parted", [HEADER, HEADER.replace(",", "\t")])
def test_a_list_of_devices_is_read(parted: str) -> None:
    between = "\t" if "\t" in parted else ","
    rows = [["boat-3", "dunlin", " North ", "yes", "3.1"], ["boat-4", "dunlin", "South", "", ""]]
    text = parted + "".join(between.join(row) + "\n" for row in rows)

    assert read_devices(text) == [
        NewDevice("boat-3", "dunlin", "North", software="3.1", spare=True, line=2),
        NewDevice("boat-4", "dunlin", "South", line=3),
    ]


def test_a_cell_of_a_spreadsheet_may_hold_a_comma() -> None:
    (one,) = read_devices("tag\tmodel\tstation\nboat-3\tdunlin\tNorth, pier\n")

    assert one.station == "North, pier"


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [
        ("", 1, "file"),
        (HEADER, 1, None),
        ("tag,model\nboat-3,dunlin\n", 1, "station"),
        ("tag,model,station,colour\n", 1, "colour"),
        (HEADER + "boat-3,dunlin,North,perhaps,\n", 2, "spare"),
        (HEADER + "boat-3,dunlin\n", 2, "row"),
    ],
)
def test_what_is_wrong_is_told_by_its_cell(text: str, line: int, column: str | None) -> None:
    with pytest.raises(Refused) as refused:
        read_devices(text)

    assert (refused.value.faults[0].line, refused.value.faults[0].column) == (line, column)


@pytest.mark.parametrize(("count", "fits"), [(MOST_DEVICES, True), (MOST_DEVICES + 1, False)])
def test_so_many_are_taken_at_once(count: int, fits: bool) -> None:
    text = "tag,model,station\n" + "".join(f"b-{n},dunlin,North\n" for n in range(count))

    if fits:
        assert len(read_devices(text)) == count
        return
    with pytest.raises(Refused, match="at most"):
        read_devices(text)


def registered(**instead: Any) -> Registered:
    wanted: dict[str, Any] = {"id": 1, "tag": "boat-3", "model": "dunlin", "station": "North"}
    mark = Mark(Device(**(wanted | instead)))
    clearance = Clearance(ClearanceState.NOT_CLEARED, ("Nobody has read what it holds.",))
    return Registered(mark, DeviceStatus.NOT_JUDGED, clearance, overdue=True)


def test_the_register_goes_out_with_clearance_and_reason() -> None:
    (row,) = csv.DictReader(io.StringIO(register_csv([registered(serial="S-1")])))

    assert (row["tag"], row["serial"], row["status"]) == ("boat-3", "S-1", "in-service")
    assert (row["clearance"], row["overdue"]) == ("not cleared", "yes")
    assert row["why"] == "Nobody has read what it holds."


def test_no_cell_acts_as_a_formula() -> None:
    text = register_csv([registered(note='=HYPERLINK("x")', vehicle="@boat", serial="-1")])
    (row,) = csv.DictReader(io.StringIO(text))

    assert (row["note"][:2], row["vehicle"], row["serial"]) == ("'=", "'@boat", "'-1")


@pytest.mark.parametrize("begun", ["=", "+", "-", "@", "\t", "\r", "\n"])
def test_what_could_begin_a_formula_is_quoted(begun: str) -> None:
    assert safe_cell(f"{begun}1") == f"'{begun}1"
    assert safe_cell(f"1{begun}") == f"1{begun}"
