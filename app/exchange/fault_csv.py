"""Refused rows as CSV, safe to open in a spreadsheet program."""

import csv
import io
from collections.abc import Sequence

from app.domain.errors import Fault
from app.exchange.formula_safe import safe_cell


def fault_csv(faults: Sequence[Fault]) -> str:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(["line", "column", "reason", "value"])
    for fault in faults:
        cells = (fault.line, fault.column, fault.reason, fault.value)
        writer.writerow(["" if cell is None else safe_cell(str(cell)) for cell in cells])
    return text.getvalue()
