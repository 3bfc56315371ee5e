"""Every table, so that whoever wants the whole schema imports one module."""

from app.storage.acknowledgements import AcknowledgementRow
from app.storage.agencies import AgencyRow
from app.storage.answered_requests import AnsweredRequestRow
from app.storage.api_tokens import ApiTokenRow
from app.storage.card_prints import CardPrintRow
from app.storage.clearances import ClearanceOverrideRow
from app.storage.column_maps import ColumnMapRow
from app.storage.crew_codes import CrewCodeRow
from app.storage.deviations import DeviationRow
from app.storage.device_changes import DeviceChangeRow
from app.storage.device_presets import DevicePresetsRow
from app.storage.devices import DeviceRow
from app.storage.devices_now import DeviceNowRow
from app.storage.draws import DrawRow
from app.storage.drills import DrillRow
from app.storage.evidence import EvidenceRow
from app.storage.finding_events import FindingEventRow
from app.storage.finding_rows import FindingRow
from app.storage.invitations import InvitationRow
from app.storage.layouts import LayoutRow
from app.storage.ledger import LedgerHeadRow, LedgerRow
from app.storage.long_work import LongWorkRow
from app.storage.model_records import ModelRecordRow
from app.storage.outer_bounds import OuterBoundsRow
from app.storage.pending_uploads import PendingUploadRow
from app.storage.people import PersonRoleRow, PersonRow
from app.storage.quarantines import CustodyRow, QuarantineRow
from app.storage.reading_sessions import ReadingLookRow, ReadingSessionRow
from app.storage.reaudit_runs import ReauditRow
from app.storage.recordings import RecordingRow
from app.storage.report_inputs import ReportInputRow
from app.storage.reports import ReportRow
from app.storage.revision_comments import RevisionCommentRow
from app.storage.revisions import RevisionAuthorRow, RevisionRow
from app.storage.sent_files import SentFileRow
from app.storage.setup_links import SetupLinkRow
from app.storage.shift_checks import ShiftCheckRow
from app.storage.sign_in_failures import SignInFailureRow
from app.storage.sign_ins import SignInRow
from app.storage.signatures import SignatureRow
from app.storage.waivers import WaiverRow

__all__ = [
    "AcknowledgementRow",
    "AgencyRow",
    "AnsweredRequestRow",
    "ApiTokenRow",
    "CardPrintRow",
    "ClearanceOverrideRow",
    "ColumnMapRow",
    "CrewCodeRow",
    "CustodyRow",
    "DeviationRow",
    "DeviceChangeRow",
    "DeviceNowRow",
    "DevicePresetsRow",
    "DeviceRow",
    "DrawRow",
    "DrillRow",
    "EvidenceRow",
    "FindingEventRow",
    "FindingRow",
    "InvitationRow",
    "LayoutRow",
    "LedgerHeadRow",
    "LedgerRow",
    "LongWorkRow",
    "ModelRecordRow",
    "OuterBoundsRow",
    "PendingUploadRow",
    "PersonRoleRow",
    "PersonRow",
    "QuarantineRow",
    "ReadingLookRow",
    "ReadingSessionRow",
    "ReauditRow",
    "RecordingRow",
    "ReportInputRow",
    "ReportRow",
    "RevisionAuthorRow",
    "RevisionCommentRow",
    "RevisionRow",
    "SentFileRow",
    "SetupLinkRow",
    "ShiftCheckRow",
    "SignInFailureRow",
    "SignInRow",
    "SignatureRow",
    "WaiverRow",
]
