"""What a row of the access table may say besides a deed."""

from typing import Literal

from app.domain.permissions import Deed

Special = Literal["open", "member"]
Row = Deed | Special
OPEN: Special = "open"
"""Everybody, also without an account."""
MEMBER: Special = "member"
"""Whoever works in the agency, in any role."""
