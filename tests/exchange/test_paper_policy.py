"""What was signed is what is printed, cell by cell, read back by another program."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.corridor import Corridor
from app.domain.moves import RevisionStatus
from app.domain.rendering import rendered_presets
from app.domain.settings_of_alarms import On, show_number
from app.exchange.paper_policy import confirm_address, policy_pdf
from tests.builders import DAY, HOUR, NOW
from tests.policy_papers import BASE, SILENT, draft_paper, profile, signed_paper
from tests.printed import pages, press, qr_codes, text, widest


def printed(paper: Any, base: str = BASE) -> bytes:
    return policy_pdf(press(), paper, base=base)


@pytest.fixture(scope="module")
def signed() -> str:
    return text(printed(signed_paper()))


def between(told: str, start: str, end: str) -> str:
    return told.split(start, 1)[1].split(end, 1)[0]


def test_who_signed_what_and_when_is_told_with_its_zone(signed: str) -> None:
    fingerprint = profile().fingerprint
    grouped = " ".join(fingerprint[at : at + 8] for at in range(0, 64, 8))

    assert "Signed by Dana Sund (dana), medical director" in signed
    assert "At 2 March 2026, 08:00 GMT (08:00 UTC)" in signed
    assert "Meaning “This is our policy.”" in signed
    assert f"What was signed {grouped}" in signed
    assert "Written by Anna Reyne" in signed
    assert "Reviewed by Ravi Calder, 1 March 2026, 09:00 GMT (09:00 UTC)" in signed


def test_where_the_ledger_stood_is_told(signed: str) -> None:
    assert f"Signed in the ledger entry 39, {' '.join(['a1a1a1a1'] * 8)}" in signed
    assert f"Ledger when printed 41 entries, head {' '.join(['5e5e5e5e'] * 8)}" in signed


def test_what_judged_it_and_what_was_found_is_told(signed: str) -> None:
    assert "Outer bounds judged by: version 2, signed by Dana Sund" in signed
    assert "What the rules found at signing" in signed
    assert f"unsafe W1 {SILENT.message} invented" in signed


def test_every_page_has_caution_fingerprint_and_its_number() -> None:
    told = pages(printed(signed_paper()))
    short = profile().fingerprint[:16]

    assert len(told) > 5
    for number, page in enumerate(told, start=1):
        assert "alarm-limit policy of Skerry Ambulance. It is no advice for a patient." in page
        assert "Local protocol and licensed judgement rule." in page
        assert f"Fingerprint {short[:8]} {short[8:]}…" in page
        assert f"Page {number} of {len(told)}" in page
        assert "IN FORCE when printed" in page


@pytest.mark.parametrize(
    "row",
    [
        "Heart rate low below 61 /min high 5 s yes below 41 /min, high, at once "
        "50–70, off by medical control",
        "Heart rate high above 150 /min W1 medium at once no none",
        "EtCO₂ low below 30 mmHg medium 10 s no none",
        "Asystole on high at once yes none",
        "Apnoea after 20 s high at once no none",
        "SpO₂ high OFF",
        "IBP mean low not fitted",
        "No policy for: Temperature high.",
    ],
)
def test_every_state_of_an_alarm_is_told(signed: str, row: str) -> None:
    assert row in between(signed, "Child, 5 y to 13 y", "Adult, 13 y and over")


def test_every_setting_of_every_category_stands_in_its_table(signed: str) -> None:
    found = profile()
    starts = [f"{one.label}, {one.span}" for one in found.categories]

    for category, (start, end) in zip(
        found.categories, pairwise([*starts, "Circumstances"]), strict=True
    ):
        table = between(between(signed, "Settings by category", "Options of"), start, end)
        for key, setting in found.of_category(category.key).items():
            if isinstance(setting, On) and setting.limit is not None:
                alarm = ALARM_CONDITIONS[key]
                side = (
                    "after"
                    if alarm.vital_sign is None
                    else {"low": "below", "high": "above"}[alarm.side]
                )
                told = f"{alarm.label} {side} {show_number(setting.limit)} {alarm.shown}"
                assert told in table


def test_every_cell_of_every_row_is_what_was_signed(signed: str) -> None:
    """State, limit, unit, priority, delay, latching and deep line, written here once more from the
    signed document itself and never by the words of the paper."""
    found = profile()
    tables = between(signed, "Settings by category", "Options of").replace(" W1 ", " ")
    starts = [f"{one.label}, {one.span}" for one in found.categories]
    compared = 0

    for category, (start, end) in zip(
        found.document["categories"],  # type: ignore[call-overload]
        between_starts(starts),
        strict=True,
    ):
        table = between(tables, start, end)
        settings = found.document["settings"][category["key"]]  # type: ignore[index]
        for key, written in settings.items():
            if written["state"] != "no-policy":
                assert signed_row(key, written) in table, (category["key"], key)
                compared += 1
    assert compared == 36


def between_starts(starts: list[str]) -> list[tuple[str, str]]:
    return list(pairwise([*starts, "Circumstances"]))


def signed_row(key: str, written: dict[str, Any]) -> str:
    alarm = ALARM_CONDITIONS[key]
    if written["state"] != "on":
        return f"{alarm.label} {'OFF' if written['state'] == 'off' else 'not fitted'}"
    limit = "on" if written["limit"] is None else signed_limit(key, written["limit"])
    deep = written.get("deep")
    further = "none"
    if deep:
        priority, delay = deep["priority"], signed_delay(deep["delay_s"])
        further = f"{signed_limit(key, deep['limit'])}, {priority}, {delay}"
    latching = "yes" if written["latching"] else "no"
    delay = signed_delay(written["delay_s"])
    return f"{alarm.label} {limit} {written['priority']} {delay} {latching} {further}"


def signed_limit(key: str, limit: float) -> str:
    side = "below" if key.endswith("-low") else "above" if key.endswith("-high") else "after"
    return f"{side} {limit:g} {ALARM_CONDITIONS[key].shown}"


def signed_delay(seconds: float) -> str:
    return f"{seconds:g} s" if seconds else "at once"


def test_a_reason_and_its_source_stand_under_the_number_that_the_alarm_names(signed: str) -> None:
    notes = between(signed, "Notes: reasons and sources", "%%")

    row = between(signed, "Heart rate low below 61 /min", "Heart rate high")
    number = row.split()[-1]

    assert f" {number} slow hearts of school children invented for this test" in notes


def test_circumstances_and_options_are_told(signed: str) -> None:
    told = between(signed, "Circumstances", "Presets as")

    assert "Hypercapnia risk (Adult)" in told
    assert "SpO₂ low below 86 %" in told
    assert "Longest pause 120 s" in told


def test_every_rendered_value_of_every_preset_is_printed(signed: str) -> None:
    """In the model's unit and on its step, in the order of the presets' ages."""
    found = profile()

    for model in found.models:
        presets = sorted(rendered_presets(found, model).values(), key=lambda one: one.ages.start)
        page = between(
            signed,
            f"Model {model} Keeps" if model == "turnstone" else f"Model {model} How",
            "To set by hand",
        )
        for preset in presets:
            assert f"{preset.preset} {found.category(preset.carries).label}" in page  # type: ignore[union-attr]
            for alarm, setting in preset.settings.items():
                if isinstance(setting, On) and setting.limit is not None:
                    row = _row(page, ALARM_CONDITIONS[alarm].label)
                    values = {show_number(value) for value in preset.values(alarm)}
                    assert any(f" {value} {setting.priority}" in row for value in values), row


def _row(page: str, label: str) -> str:
    labels = sorted((one.label for one in ALARM_CONDITIONS.values()), key=len, reverse=True)
    row = page.split(f" {label} ", 1)[1]
    ends = [at for one in labels if (at := row.find(f" {one} ")) > 0]
    return f" {row[: min(ends, default=len(row))]} ".replace(" W1 ", " ")


def test_the_corridor_stands_between_the_glance_and_the_tables(signed: str) -> None:
    told = between(signed, "Age corridor", "Settings by category")

    assert "silent: danger without an alarm" in told
    assert "Fleming 2011" in told


def test_a_policy_without_limits_has_no_corridor() -> None:
    bare = replace(signed_paper(), corridor=Corridor((), ()))

    assert "Age corridor" not in text(printed(bare))


def test_a_rounded_value_names_the_one_that_was_signed(signed: str) -> None:
    table = between(signed, "Model turnstone", "To set by hand")

    assert "65 high, 5 s, latching deep 45, high, at once policy: below 61 /min" in table
    assert "EtCO₂ low kPa" in table
    assert "4 medium, 10 s policy: below 30 mmHg" in table


def test_a_value_that_a_model_cannot_hold_is_called_so(signed: str) -> None:
    told = between(signed, "To set by hand on model petrel", "What the rules found")

    assert "Child, 5 y to 13 y: preset LARGE holds the values of Adult." in told
    assert "Heart rate low below 61 /min, high priority, 5 s, latching, deep line" in told
    assert "SpO₂ high cannot be set to OFF" in told


def test_a_waiver_shows_wherever_its_limit_shows(signed: str) -> None:
    assert (
        "W1 Child: Heart rate can rise unannounced until the new boxes are here "
        "Dana, 2 March 2026, 08:00 GMT (08:00 UTC) until 31 Mar 2026"
    ) in signed
    assert "61 – 150 W1" in between(signed, "All limits at a glance", "Settings by category")
    assert "150 W1 medium" in between(signed, "Model turnstone", "To set by hand")
    assert "above 150 /min, medium priority, at once W1" in signed
    assert "ENDED" not in signed


def test_a_waiver_that_has_ended_says_so() -> None:
    late = replace(signed_paper(), printed_at=NOW + 30 * DAY)

    assert "until 31 Mar 2026 ENDED when printed" in text(printed(late))


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({}, "Review by 2 Mar 2027 "),
        ({"review_by": date(2026, 3, 2)}, "Review by 2 Mar 2026 "),
        ({"review_by": date(2026, 3, 1)}, "Review by 1 Mar 2026, OVERDUE when printed"),
        (
            {"emergency": "wrong leads", "review": None},
            "Emergency signed without a second person: wrong leads "
            "Review of it due 1 April 2026, 09:00 BST (08:00 UTC), by somebody else",
        ),
        (
            {"emergency": "wrong leads", "signed_at": NOW - 31 * DAY, "in_force_at": NOW - DAY},
            "by somebody else, OVERDUE when printed",
        ),
        ({"emergency": "wrong leads", "reviewed_at": NOW}, "without a second person: wrong leads"),
    ],
)
def test_what_somebody_still_has_to_do_is_told(changed: dict[str, Any], told: str) -> None:
    assert told in pages(printed(signed_paper(**changed)))[0]


@pytest.mark.parametrize(
    ("changed", "stamp"),
    [
        ({}, "IN FORCE when printed"),
        ({"in_force_at": NOW + HOUR}, "SIGNED, not yet in force"),
        ({"until": NOW + timedelta(seconds=1)}, "IN FORCE when printed"),
        ({"until": NOW}, "SUPERSEDED"),
        ({"withdrawn_at": NOW, "status": RevisionStatus.WITHDRAWN}, "WITHDRAWN"),
    ],
)
def test_every_page_is_stamped_with_the_status_when_printed(
    changed: dict[str, Any], stamp: str
) -> None:
    told = pages(printed(signed_paper(**changed)))

    assert all(f"revision 7 {stamp}" in page for page in told)


@pytest.mark.parametrize(
    ("status", "stamp"),
    [
        (RevisionStatus.DRAFT, "DRAFT, not signed"),
        (RevisionStatus.IN_REVIEW, "IN REVIEW, not signed"),
    ],
)
def test_what_nobody_signed_says_so_on_every_page_and_has_no_code(
    status: RevisionStatus, stamp: str
) -> None:
    pdf = printed(draft_paper(status=status))

    told = pages(pdf)

    assert all(page.count(stamp) == 2 for page in told)  # in the head and behind the text
    assert "Nobody has signed this." in told[0]
    assert "What the rules find now" in " ".join(told)
    assert qr_codes(pdf) == []
    assert "/confirm/" not in " ".join(told)


def test_the_code_leads_to_the_page_that_confirms_and_carries_the_head() -> None:
    paper = signed_paper()

    found = qr_codes(printed(paper))

    assert found == [f"{BASE}/skerry/confirm/{profile().fingerprint}?head={'5e' * 32}"]
    assert found == [confirm_address(paper, f"{BASE}/")]


@pytest.mark.parametrize(
    ("base", "warned"),
    [(BASE, False), ("http://127.0.0.1:8350", True), ("http://localhost:8350", True)],
)
def test_a_code_that_leads_nowhere_from_a_phone_says_so(base: str, *, warned: bool) -> None:
    told = pages(printed(signed_paper(), base))[0]

    assert ("works only on its own machine" in told) is warned


def test_the_same_revision_printed_at_the_same_time_is_the_same_paper() -> None:
    assert printed(signed_paper()) == printed(signed_paper())


@pytest.mark.parametrize("name", ['Dana #import "x" *Sund*', "#panic()", "Sund $x$ `y`", "李 Sund"])
def test_a_hostile_name_is_only_a_name(name: str) -> None:
    paper = signed_paper()
    (one,) = paper.revision.signatures
    hostile = replace(paper.revision, signatures=(replace(one, name=name),))

    told = text(printed(replace(paper, revision=hostile)))

    assert f"Signed by {name.replace('李', '[U+674E]')} (dana)" in told


@pytest.mark.parametrize("word", ["W" * 200, "w" * 200, "W" * 18])
def test_a_name_without_a_space_stays_on_the_page(word: str) -> None:
    """200 letters are as many as the service takes."""
    paper = signed_paper()
    (one,) = paper.revision.signatures
    long = replace(paper.revision, signatures=(replace(one, name=word, meaning=word),))
    categories = tuple(replace(one, label=word) for one in paper.profile.categories)
    policy = replace(paper.profile, categories=categories, name=word)

    pdf = printed(replace(paper, revision=long, profile=policy))

    assert f"Signed by {word}" in pages(pdf)[0].replace(f"{word[:48]} ", word[:48])
    assert widest(pdf) < 200  # A4 is 210 mm wide, its margin 17 mm
