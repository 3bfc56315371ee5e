"""Every table, so that whoever wants the whole schema imports one module."""

from app.storage.agencies import AgencyRow
from app.storage.deviations import DeviationRow
from app.storage.devices import DeviceRow
from app.storage.devices_now import DeviceNowRow
from app.storage.findings import FindingRow
from app.storage.layouts import LayoutRow
from app.storage.ledger import LedgerHeadRow, LedgerRow
from app.storage.outer_bounds import OuterBoundsRow
from app.storage.pending_uploads import PendingUploadRow
from app.storage.people import PersonRoleRow, PersonRow
from app.storage.reports import ReportRow
from app.storage.revisions import RevisionAuthorRow, RevisionRow
from app.storage.setup_links import SetupLinkRow
from app.storage.sign_in_failures import SignInFailureRow
from app.storage.sign_ins import SignInRow
from app.storage.signatures import SignatureRow

__all__ = [
    "AgencyRow",
    "DeviationRow",
    "DeviceNowRow",
    "DeviceRow",
    "FindingRow",
    "LayoutRow",
    "LedgerHeadRow",
    "LedgerRow",
    "OuterBoundsRow",
    "PendingUploadRow",
    "PersonRoleRow",
    "PersonRow",
    "ReportRow",
    "RevisionAuthorRow",
    "RevisionRow",
    "SetupLinkRow",
    "SignInFailureRow",
    "SignInRow",
    "SignatureRow",
]
