"""Whatever reads or changes anything is told whose agency it is about, and by whom.

`test_roles.py` walks every address with another agency's people; here the floors below are held to
it, so that no new look-up or action can be written that knows no agency.
"""

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator
from types import ModuleType

import pytest

import app.actions
import app.lookups

WHOSE = {"by", "person", "agency", "agency_id", "key"}  # `key`: of an agency
KNOWS_NO_AGENCY = {
    # Before anybody is known, or about the installation as a whole.
    "app.actions.people.make_setup_link": "there is no agency yet",
    "app.lookups.agencies.needs_setup": "there is no agency yet",
    "app.lookups.agencies.setup_link_works": "there is no agency yet",
    "app.actions.invitations.set_password_by_link": "the link says whose it is",
    "app.lookups.invitations.invited": "the link says whose it is",
    "app.actions.long_work.asked_with": "the process that does it, and whoever asked",
    "app.actions.long_work.begin_work": "the process that does it, for every agency",
    "app.actions.long_work.enqueue_missing": "of the installation",
    "app.actions.long_work.finish_work": "the process that does it, and has begun it",
    "app.actions.long_work.give_work_up": "the process that does it, and has begun it",
    "app.actions.long_work.held_with": "the process that does it, and whoever asked",
    "app.actions.long_work.hold_work": "the process that does it, and has begun it",
    "app.actions.long_work.put_work_back": "the process that does it, and has begun it",
    "app.lookups.long_work.unfinished": "of the installation, numbers alone",
    "app.lookups.long_work.waiting_since": "of the installation, a time alone",
    "app.actions.backups.tell_backup": "of the installation",
    "app.lookups.backups.last_backup_at": "of the installation",
    "app.lookups.installation.is_ready": "of the installation",
    "app.lookups.installation.counted": "of the installation, counts alone",
    "app.lookups.ledger.prove_ledger": "of the installation, fingerprints alone",
    # A token says who it is.
    "app.actions.sign_ins.keep_signed_in": "a session's token",
    "app.actions.sign_ins.sign_out": "a session's token",
    "app.lookups.sign_ins.signed_in": "a session's token",
    "app.lookups.api_tokens.asking": "a program's token",
    "app.actions.api_tokens.mark_used": "a program's token, found before",
    # What is handed in was found for an agency before.
    "app.actions.found_astray.standing_beside": "a device and its report",
    "app.actions.reports.check_only_one": "a device and its report",
    "app.lookups.changeover_changes.reader_names": "jobs of one agency",
    "app.lookups.evidence.trends_of": "what was asked of one agency",
    "app.lookups.policy_standing.standing_beside": "a revision",
    "app.lookups.report_files.held_file": "a reader and their agency",
    "app.lookups.report_inputs.file_place": "a report, found before",
    "app.lookups.revision_warnings.warnings_of": "a revision",
    "app.lookups.waivers.waivers_of": "a revision",
}


def functions(package: ModuleType) -> Iterator[tuple[str, Callable[..., object]]]:
    """Public ones that are handed a transaction."""
    for found in pkgutil.iter_modules(package.__path__, f"{package.__name__}."):
        module = importlib.import_module(found.name)
        for name, one in vars(module).items():
            own = inspect.isfunction(one) and one.__module__ == found.name
            if own and not name.startswith("_") and "tx" in inspect.signature(one).parameters:
                yield f"{found.name}.{name}", one


FOUND = dict([*functions(app.actions), *functions(app.lookups)])


@pytest.mark.parametrize("name", sorted(FOUND))
def test_it_is_told_whose_agency_it_is_about(name: str) -> None:
    told = WHOSE & set(inspect.signature(FOUND[name]).parameters)

    assert bool(told) is not (name in KNOWS_NO_AGENCY)


def test_no_exception_outlives_its_function() -> None:
    assert sorted(set(KNOWS_NO_AGENCY) - set(FOUND)) == []
