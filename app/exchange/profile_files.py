"""A profile as a file of either kind, told apart by its content."""

from app.exchange.profile_json import read_profile
from app.exchange.profile_xlsx_read import ReadWorkbook, read_workbook
from app.exchange.workbook_bounds import MOST_BYTES, is_workbook

MOST_FILE_BYTES = MOST_BYTES


def read_profile_file(raw: bytes) -> ReadWorkbook:
    """JSON never says from which edit version it comes. Raises Refused with every place."""
    return read_workbook(raw) if is_workbook(raw) else ReadWorkbook(read_profile(raw), None)
