"""The register as CSV: devices that come in, and the whole list that goes out."""

import csv
import io
from collections.abc import Iterable

from app.domain.errors import Fault, Refused
from app.domain.new_devices import NewDevice
from app.domain.register_filter import Registered
from app.exchange.csv_text import Faults, Line, read_lines
from app.exchange.formula_safe import safe_cell

REQUIRED = ("tag", "model", "station")
OPTIONAL = ("vehicle", "serial", "software", "spare", "note")
MOST_DEVICES = 2000
_SPARE = {"": False, "no": False, "yes": True}
_OUT = (
    *("tag", "model", "station", "vehicle", "serial", "software", "status"),
    *("owner", "loan_from", "loan_until", "clearance", "why", "holds", "oldest_read", "overdue"),
    "note",
)


def read_devices(text: str) -> list[NewDevice]:
    """Commas, or the tabs of a spreadsheet. Raises Refused with every cell that is wrong."""
    faults = Faults()
    source = io.BytesIO(_with_commas(text).encode())
    found = [
        _device(line, faults)
        for line in read_lines(source, required=REQUIRED, optional=OPTIONAL, faults=faults)
    ]
    faults.refuse_if_any()
    if not found:
        raise Refused([Fault("there is no device below the header", 1)])
    if len(found) > MOST_DEVICES:
        raise Refused([Fault(f"take at most {MOST_DEVICES} devices at once", MOST_DEVICES + 2)])
    return found


def _with_commas(text: str) -> str:
    header = text.lstrip("\ufeff").partition("\n")[0]
    if "\t" not in header:
        return text
    out = io.StringIO()
    lines = csv.reader(io.StringIO(text), delimiter="\t")
    try:
        csv.writer(out, lineterminator="\n").writerows(lines)
    except csv.Error as error:
        raise Refused([Fault(f"this is no CSV: {error}", lines.line_num)]) from None
    return out.getvalue()


def _device(line: Line, faults: Faults) -> NewDevice:
    cells = {name: cell.strip() for name, cell in line.cells.items()}
    spare = cells.get("spare", "").lower()
    if spare not in _SPARE:
        faults.add(line.number, "spare", "write yes, no or nothing", cells["spare"])
    return NewDevice(
        cells["tag"],
        cells["model"],
        cells["station"],
        vehicle=cells.get("vehicle", ""),
        serial=cells.get("serial", ""),
        software=cells.get("software", ""),
        spare=_SPARE.get(spare, False),
        note=cells.get("note", ""),
        line=line.number,
    )


def register_csv(found: Iterable[Registered]) -> str:
    """No cell of it can act as a formula in a spreadsheet."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(_OUT)
    for one in found:
        writer.writerow([safe_cell(cell) for cell in _cells(one)])
    return out.getvalue()


def _cells(one: Registered) -> list[str]:
    device, read = one.mark.device, one.oldest_read_at
    loan = device.loan
    return [
        device.tag,
        device.model,
        device.station,
        device.vehicle,
        device.serial,
        device.software,
        device.status.value,
        "" if loan is None else loan.owner,
        "" if loan is None else loan.since.isoformat(),
        "" if loan is None or loan.until is None else loan.until.isoformat(),
        one.clearance.words,
        " ".join(one.clearance.why),
        one.held.words,
        "" if read is None else read.isoformat(),
        "yes" if one.overdue else "no",
        device.note,
    ]
