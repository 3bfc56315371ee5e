from collections.abc import Collection
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from app.domain.agency_choices import AgencyChoices
from app.domain.clearances import (
    Cause,
    Clearance,
    ClearanceState,
    OpenFindings,
    Override,
    clearance_of,
    proof_of,
)
from app.domain.comparison import Direction
from app.domain.device_changes import CAUSES, ChangeKind
from app.domain.device_reports import (
    CouldNotRead,
    FoundOn,
    FoundText,
    NotRead,
    Origin,
    Reading,
    StateRead,
)
from app.domain.devices import Device, RegisterStatus
from app.domain.findings import Severity
from app.domain.fleet import StoredReport, Tally
from app.domain.known_devices import Mark
from app.domain.option_judgement import ANY_PRESET
from app.domain.rendering import rendered_presets
from app.exchange.profile_json import profile_from_document
from tests.builders import DAY, HOUR, MINUTE, NOW, a_document, as_signed

DEVICE = Device(1, "boat-3", "dunlin", "North")
TODAY = date(2026, 3, 2)
CLEARED, BY_HAND, NOT_CLEARED = ClearanceState


def mark(**instead: Any) -> Mark:
    wanted: dict[str, Any] = {"device": DEVICE, "tally": Tally()}
    wanted |= {"presets_read": 5, "presets_offered": 5, "oldest_read_at": NOW}
    return Mark(**(wanted | instead))


def found(severity: Severity, count: int = 1, **more: Any) -> OpenFindings:
    return OpenFindings(severity, count, **({"latest": NOW} | more))


def cleared(
    known: Mark | None = None,
    *,
    cause: Cause | None = None,
    findings: Collection[OpenFindings] = (),
    override: Override | None = None,
    today: date = TODAY,
    quarantined: bool = False,
) -> Clearance:
    return clearance_of(
        known or mark(),
        cause=cause,
        findings=findings,
        override=override,
        today=today,
        overdue_before=NOW,
        quarantined=quarantined,
    )


SERVICED = Cause(ChangeKind.CAME_BACK, NOW, worker=7)
PROVEN = replace(SERVICED, cleared_at=NOW + HOUR)
WORD = Override(BY_HAND, NOW + HOUR, "Dana Sund", "The only one on the island", date(2026, 3, 9))


@pytest.mark.parametrize(
    ("known", "cause", "findings", "state", "why"),
    [
        (mark(), None, (), CLEARED, ()),
        (mark(), PROVEN, (), CLEARED, ()),
        (mark(), SERVICED, (), NOT_CLEARED, ("It came back from service, and nobody else",)),
        (mark(), None, (found(Severity.UNSAFE),), NOT_CLEARED, ("1 unsafe finding is not",)),
        (mark(), None, (found(Severity.UNSAFE, 2),), NOT_CLEARED, ("2 unsafe findings are",)),
        (mark(), None, (found(Severity.OFF_PROTOCOL, 3),), BY_HAND, ("3 limits are off",)),
        (mark(), None, (found(Severity.UNSAFE, accepted=1),), BY_HAND, ("1 unsafe finding is",)),
        (mark(tally=Tally(worst=Severity.UNSAFE)), None, (), NOT_CLEARED, ("It was last read",)),
        (mark(tally=Tally(worst=Severity.OFF_PROTOCOL)), None, (), BY_HAND, ("It was last",)),
        (mark(tally=Tally(missing=1)), None, (), BY_HAND, ("1 alarm is not read",)),
        (mark(oldest_read_at=NOW - MINUTE), None, (), BY_HAND, ("Nobody has read all of it",)),
        (mark(presets_read=4), None, (), NOT_CLEARED, ("Only 4 of its 5 presets",)),
        (Mark(DEVICE), None, (), NOT_CLEARED, ("Nobody has read what it holds.",)),
        (
            mark(device=replace(DEVICE, status=RegisterStatus.AWAY)),
            None,
            (),
            NOT_CLEARED,
            ("It is away for service.",),
        ),
        (
            mark(device=replace(DEVICE, status=RegisterStatus.RETIRED)),
            SERVICED,
            (found(Severity.UNSAFE),),
            NOT_CLEARED,
            ("It is retired.",),
        ),
        (
            Mark(DEVICE),
            SERVICED,
            (found(Severity.UNSAFE),),
            NOT_CLEARED,
            ("1 unsafe", "It came back", "Nobody has read"),
        ),
    ],
)
def test_what_stands_against_a_device(
    known: Mark,
    cause: Cause | None,
    findings: Collection[OpenFindings],
    state: ClearanceState,
    why: tuple[str, ...],
) -> None:
    answer = cleared(known, cause=cause, findings=findings)

    assert answer.state is state
    assert len(answer.why) == len(why)
    assert all(told.startswith(begun) for told, begun in zip(answer.why, why, strict=True))


@pytest.mark.parametrize("kind", sorted(CAUSES))
def test_every_cause_is_told_in_words(kind: ChangeKind) -> None:
    (why,) = cleared(cause=Cause(kind, NOW)).why

    assert why.endswith("and nobody else has read it blind since and found it right.")


@pytest.mark.parametrize("state", ClearanceState)
def test_no_answer_leaves_a_patient_without_a_monitor(state: ClearanceState) -> None:
    said = f"{state.words} {state.advice}".lower()

    assert "use it" in said or "use this one" in said
    assert not any(word in said for word in ("do not use", "don't use", "never use", "no monitor"))


@pytest.mark.parametrize(
    ("override", "instead", "decides"),
    [
        (WORD, {}, True),
        (WORD, {"today": date(2026, 3, 9)}, True),
        (WORD, {"today": date(2026, 3, 10)}, False),
        (WORD, {"cause": replace(SERVICED, at=WORD.made_at)}, True),
        (WORD, {"cause": replace(SERVICED, at=WORD.made_at + HOUR)}, False),
        (WORD, {"findings": (found(Severity.UNSAFE, latest=WORD.made_at),)}, True),
        (WORD, {"findings": (found(Severity.UNSAFE, latest=WORD.made_at + HOUR),)}, False),
        (WORD, {"findings": (found(Severity.OFF_PROTOCOL, latest=NOW + DAY),)}, True),
        (WORD, {"known": mark(device=replace(DEVICE, status=RegisterStatus.AWAY))}, False),
        (WORD, {"known": mark(device=replace(DEVICE, status=RegisterStatus.RETIRED))}, False),
        (None, {}, False),
    ],
)
def test_the_directors_word_covers_what_stood_when_it_was_given(
    override: Override | None, instead: dict[str, Any], decides: bool
) -> None:
    known = instead.pop("known", None)
    answer = cleared(known, **({"cause": SERVICED} | instead), override=override)

    assert answer.override == (WORD if decides else None)
    assert answer.state is (BY_HAND if decides else NOT_CLEARED)
    assert answer.why


def test_the_word_is_silent_where_nothing_stands_against_the_device() -> None:
    assert cleared(override=WORD) == Clearance(CLEARED)


PRESETS = rendered_presets(profile_from_document(a_document() | {"agency": "Skerry"}), "dunlin")


NOBODY: frozenset[int] = frozenset()


def report(preset: str, **instead: Any) -> StoredReport:
    wanted: dict[str, Any] = {
        "id": 1,
        "device": "boat-3",
        "model": "dunlin",
        "preset": preset,
        "state_read": StateRead.AFTER_CATEGORY,
        "read_at": NOW + HOUR,
        "received_at": NOW + HOUR,
        "reader_id": 8,
        "reader": "Femi",
        "software": "3.2",
        "trigger": "",
        "minutes_off": None,
        "revision": 1,
        "readings": as_signed(preset) if preset in PRESETS else {},
        "verdicts": {},
        "origin": Origin.FORM,
        "reader_told": "",
        "device_clock": "",
    }
    return StoredReport(**(wanted | instead))


def proven(reports: list[StoredReport], *critical: str, lookers: frozenset[int] = NOBODY) -> bool:
    """`lookers`: at every report, besides its reader."""
    choices = AgencyChoices(critical_alarms=critical)
    seen_by = {one.id: lookers for one in reports}
    return proof_of(SERVICED, reports, seen_by, PRESETS, revision=1, choices=choices) is not None


OTHERS = [report(preset) for preset in PRESETS if preset != "adult"]


def lacking(alarm: str, reading: Reading) -> dict[str, Reading]:
    return as_signed("adult") | {alarm: reading}


@pytest.mark.parametrize(
    ("last", "proves"),
    [
        ({}, True),
        ({"read_at": NOW}, False),
        ({"read_at": NOW + HOUR / 60}, True),
        ({"reader_id": 7}, False),
        ({"origin": Origin.FILE}, False),
        ({"revision": None}, False),
        ({"revision": 2}, False),
        ({"state_read": StateRead.IN_USE}, False),
        ({"state_read": StateRead.POWER_ON}, True),
        ({"readings": lacking("spo2-low", CouldNotRead("no probe"))}, False),
        ({"readings": lacking("spo2-low", NotRead())}, False),
        ({"verdicts": {"spo2-low": (Direction.LOOSER, Severity.UNSAFE)}}, False),
        ({"verdicts": {"spo2-low": (Direction.TIGHTER, Severity.OFF_PROTOCOL)}}, False),
        ({"verdicts": {"spo2-low": (Direction.OTHER, Severity.NOTE)}}, True),
    ],
)
def test_what_proves_a_device(last: dict[str, Any], proves: bool) -> None:
    assert proven([*OTHERS, report("adult", **last)]) is proves


@pytest.mark.parametrize(("lookers", "proves"), [(NOBODY, True), ({5, 8}, True), ({5, 7}, False)])
def test_what_several_looks_bear_out_proves_unless_the_worker_had_one(
    lookers: set[int], proves: bool
) -> None:
    settled = report("adult", origin=Origin.SETTLED)

    assert proven([*OTHERS, settled], lookers=frozenset(lookers)) is proves


def test_every_preset_must_be_read() -> None:
    assert not proven(OTHERS)


def test_the_latest_reading_of_a_preset_tells() -> None:
    astray = {"spo2-low": (Direction.LOOSER, Severity.UNSAFE)}
    before = report("adult", read_at=NOW + HOUR / 2, verdicts=astray)
    after = report("adult", read_at=NOW + 2 * HOUR, verdicts=astray)

    assert proven([*OTHERS, before, report("adult")])
    assert not proven([*OTHERS, report("adult"), after])


def test_only_the_critical_alarms_must_be_read() -> None:
    last = report("adult", readings=lacking("apnoea", NotRead()))

    assert proven([*OTHERS, last], "spo2-low", "heart-rate-low")
    assert not proven([*OTHERS, last], "spo2-low", "apnoea")


VOLUME, LEAD = "audio-volume", "default-lead"
EVERY_PRESET = [*OTHERS, report("adult")]


def options_read(**last: Any) -> StoredReport:
    told: dict[str, Any] = {"readings": {VOLUME: FoundOn(Decimal(80)), LEAD: FoundText("II")}}
    return report(ANY_PRESET, **(told | last))


@pytest.mark.parametrize(
    ("read", "proves"),
    [
        ([], False),
        ([options_read()], True),
        ([options_read(reader_id=7)], False),
        ([options_read(read_at=NOW)], False),
        ([options_read(origin=Origin.FILE)], False),
        ([options_read(revision=2)], False),
        ([options_read(readings={VOLUME: FoundOn(Decimal(80))})], False),
        ([options_read(readings={VOLUME: CouldNotRead("no"), LEAD: FoundText("II")})], False),
        ([options_read(readings={VOLUME: FoundOn(Decimal(80)), LEAD: CouldNotRead("no")})], True),
        ([options_read(verdicts={LEAD: (Direction.OTHER, Severity.OFF_PROTOCOL)})], False),
    ],
)
def test_the_options_that_the_policy_states_must_be_read_as_well(
    read: list[StoredReport], proves: bool
) -> None:
    choices = AgencyChoices()
    proof = proof_of(
        SERVICED,
        [*EVERY_PRESET, *read],
        {},
        PRESETS,
        revision=1,
        choices=choices,
        options=[VOLUME, LEAD],
    )

    assert (proof is not None) is proves


def test_options_that_no_policy_states_are_not_waited_for() -> None:
    assert proven([*EVERY_PRESET, options_read()])
    assert proven(EVERY_PRESET)


def test_without_a_policy_nothing_is_proven() -> None:
    assert proof_of(SERVICED, OTHERS, {}, {}, revision=1, choices=AgencyChoices()) is None


def test_no_word_lets_a_device_in_quarantine_be_used() -> None:
    held = cleared(cause=SERVICED, override=WORD, quarantined=True)

    assert cleared(cause=SERVICED, override=WORD).state is BY_HAND
    assert (held.state, held.override) == (NOT_CLEARED, None)
    assert held.why[0] == "It is in quarantine."
    assert cleared(quarantined=True).why == ("It is in quarantine.",)
