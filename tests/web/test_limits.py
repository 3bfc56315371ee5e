import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import (
    DAY,
    NOW,
    a_device,
    a_document,
    a_report,
    a_signed_revision,
    an_agency,
    as_signed,
    limit,
)
from tests.crew_documents import OXYGEN, PETREL, withdrawn
from tests.web.visits import Visits

LIMITS = "/skerry/limits"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def anybody(visits: Visits) -> TestClient:
    """Nobody signed in, before a service whose policy is in force."""
    visits.seed(a_signed_revision)
    return TestClient(visits.app, follow_redirects=False)


def words(html: str) -> str:
    """As they are read: without tags, with single spaces."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


@pytest.mark.parametrize(
    ("age", "category"),
    [
        ("0 d", "Neonate"),
        ("27 d", "Neonate"),
        ("28 d", "Infant"),
        ("364 d", "Infant"),
        ("365 d", "Infant"),  # 1 y is 365.25 d
        ("366 d", "Preschool"),
        ("12 mo", "Preschool"),
        ("1 y", "Preschool"),
        ("59.9 mo", "Preschool"),
        ("5 y", "School"),
        ("12.99 y", "School"),
        ("13 y", "Adult"),
        ("130 y", "Adult"),
    ],
)
def test_an_age_reaches_its_category(anybody: TestClient, age: str, category: str) -> None:
    page = anybody.get(LIMITS, params={"age": age})

    assert page.status_code == 200
    assert re.search(rf"<h1>{category}\b", page.text)
    assert "By age:" in page.text


def test_the_limits_read_as_alarms_and_never_as_values(anybody: TestClient) -> None:
    page = words(anybody.get(LIMITS, params={"age": "7 mo"}).text)

    assert "Heart rate alarm below 90 /min" in page
    assert "above 180 /min" in page
    assert "Apnoea alarm after 20 s" in page
    assert "OFF no high alarm" in page
    assert "SpO₂ high: no oxygen target at this age" in page


def test_a_chosen_category_says_that_no_age_was_given(anybody: TestClient) -> None:
    page = words(anybody.get(LIMITS, params={"category": "infant"}).text)

    assert "Chosen as a category, without an age: 28 days to 1 year." in page
    assert "Healthy" not in page


def test_who_signed_what_and_when_stands_on_the_page(visits: Visits, anybody: TestClient) -> None:
    revision = visits.seed(lambda tx: a_signed_revision(tx, document=a_document(), now=NOW))

    page = words(anybody.get(LIMITS, params={"age": "7 mo"}).text)

    assert f"Revision {revision.number}, in force since 2 Mar 2026, signed by Dana" in page
    assert revision.fingerprint[:12] in page


@pytest.mark.parametrize("params", [{}, {"age": ""}, {"category": ""}])
def test_an_unknown_age_is_asked_for_and_nothing_is_chosen(
    anybody: TestClient, params: dict[str, str]
) -> None:
    page = anybody.get(LIMITS, params=params)

    assert page.status_code == 200
    assert "how old?" in page.text
    assert "alarm below" not in page.text


@pytest.mark.parametrize(
    ("params", "told"),
    [
        ({"age": "seven"}, "is no age"),
        ({"age": "-1 d"}, "is no age"),
        ({"age": "131 y"}, "older than 130 years"),
        ({"n": "", "unit": "mo"}, "write a number"),
        ({"n": "7", "unit": "wk"}, "choose days, months"),
        ({"place": "0"}, "slide to the age first"),
        ({"place": "x"}, "slide to the age first"),
        ({"age": "7 mo", "category": "adult"}, "an age and a category were given"),
    ],
)
def test_an_age_that_is_none_is_asked_again(
    anybody: TestClient, params: dict[str, str], told: str
) -> None:
    page = anybody.get(LIMITS, params=params)

    assert page.status_code == 422
    assert told in words(page.text)
    assert "alarm below" not in page.text


@pytest.mark.parametrize(
    ("params", "age"),
    [
        ({"n": "7", "unit": "mo"}, "7+mo"),
        ({"n": "4,5", "unit": "mo"}, "4.5+mo"),
        ({"n": " 0 ", "unit": "d"}, "0+d"),
        ({"n": "12", "unit": "mo"}, "1+y"),
        ({"place": "200"}, "100+y"),
    ],
)
def test_every_way_to_an_age_leads_to_one_address(
    anybody: TestClient, params: dict[str, str], age: str
) -> None:
    answer = anybody.get(LIMITS, params=params)

    assert (answer.status_code, answer.headers["location"]) == (303, f"{LIMITS}?age={age}")


def test_a_category_that_the_policy_does_not_have_is_not_found(anybody: TestClient) -> None:
    assert anybody.get(LIMITS, params={"category": "grown-up"}).status_code == 404


@pytest.mark.parametrize("params", [{}, {"age": "7 mo"}, {"category": "adult"}])
def test_without_a_revision_in_force_nothing_is_shown(
    visits: Visits, params: dict[str, str]
) -> None:
    visits.seed(lambda tx: a_signed_revision(tx, in_force_at=NOW + DAY))

    page = TestClient(visits.app).get(LIMITS, params=params)

    assert page.status_code == 200
    assert "No policy is in force" in page.text
    assert "alarm below" not in page.text


def test_another_agency_has_other_limits_or_none(visits: Visits, anybody: TestClient) -> None:
    visits.seed(lambda tx: an_agency(tx, "elsewhere"))

    assert "No policy is in force" in anybody.get("/elsewhere/limits").text
    assert anybody.get("/nowhere/limits").status_code == 404


def test_a_page_that_has_not_changed_is_not_sent_again(anybody: TestClient) -> None:
    first = anybody.get(LIMITS, params={"age": "7 mo"})
    tag = {"If-None-Match": first.headers["etag"]}

    assert anybody.get(LIMITS, params={"age": "7 mo"}, headers=tag).status_code == 304
    several = {"If-None-Match": f'"another", W/{first.headers["etag"]}'}
    assert anybody.get(LIMITS, params={"age": "7 mo"}, headers=several).status_code == 304
    assert anybody.get(LIMITS, params={"age": "8 mo"}, headers=tag).status_code == 200


def test_a_new_revision_makes_every_kept_page_old(visits: Visits, anybody: TestClient) -> None:
    tag = {"If-None-Match": anybody.get(LIMITS, params={"age": "7 mo"}).headers["etag"]}
    visits.seed(lambda tx: a_signed_revision(tx, document=a_document({"spo2-low": 91})))

    assert anybody.get(LIMITS, params={"age": "7 mo"}, headers=tag).status_code == 200


def test_the_caution_stands_above_and_below(anybody: TestClient) -> None:
    page = anybody.get(LIMITS, params={"age": "7 mo"}).text

    caution = "no advice for a patient"
    assert page.index(caution) < page.index("alarm below") < page.rindex(caution)


def test_the_label_says_what_the_device_is_last_known_to_hold(
    visits: Visits, anybody: TestClient
) -> None:
    visits.seed(a_device)
    visits.seed(lambda tx: a_report(tx, as_signed(heart_rate_high=limit(200))))

    page = words(anybody.get("/skerry/d/boat-3").text)
    values = words(anybody.get("/skerry/d/boat-3/values").text)

    assert "Unsafe: a danger could pass without an alarm." in page
    assert "1 setting differs, 1 of them unsafe, since 2 Mar 2026" in page
    assert "200" not in page
    assert "Heart rate can rise from 170 to 200 /min unannounced." in values
    assert "held against revision 1" in page
    assert "Revision 1, in force since" in page


def test_the_label_of_an_unread_device_says_that_nothing_is_known(
    visits: Visits, anybody: TestClient
) -> None:
    visits.seed(a_device)

    page = words(anybody.get("/skerry/d/boat-3").text)

    assert "It is not known what this device holds. Nobody has read it yet." in page


def test_the_label_shows_no_limits_of_a_policy_that_is_not_in_force(visits: Visits) -> None:
    visits.seed(a_device)

    page = words(TestClient(visits.app).get("/skerry/d/boat-3").text)

    assert "No policy is in force, so no limit is shown." in page


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"category": "grown-up"}, "no such category"),
        ({"age": "2 y", "circumstance": "preterm"}, "no such circumstance"),
        ({"age": "2 y", "model": "gannet"}, "no such device model"),
    ],
)
def test_what_another_revision_knew_leads_on_to_the_limits(
    anybody: TestClient, asked: dict[str, str], told: str
) -> None:
    answer = anybody.get(LIMITS, params=asked)

    assert answer.status_code == 404
    assert told in words(answer.text)
    assert f'href="{LIMITS}?category=adult"' in answer.text
    assert 'name="model" value="gannet"' not in answer.text


def test_a_device_of_another_agency_has_no_label_here(visits: Visits, anybody: TestClient) -> None:
    visits.seed(a_device)
    visits.seed(lambda tx: an_agency(tx, "elsewhere"))

    assert anybody.get("/elsewhere/d/boat-3").status_code == 404


def test_somebody_signed_in_keeps_their_navigation(visits: Visits, anybody: TestClient) -> None:
    page = visits.of(Role.CREW).get(LIMITS, params={"age": "7 mo"})

    assert "Cruz" in page.text
    assert "Cruz" not in anybody.get(LIMITS, params={"age": "7 mo"}).text


@pytest.fixture
def oxygen(visits: Visits) -> TestClient:
    """Nobody signed in, before a policy with one circumstance."""
    document = a_document() | {"circumstances": [OXYGEN]}
    visits.seed(lambda tx: a_signed_revision(tx, document=document))
    return TestClient(visits.app)


@pytest.mark.parametrize("where", ["age=3+d", "category=neonate"])
def test_a_circumstance_is_chosen_by_a_tap_and_named(oxygen: TestClient, where: str) -> None:
    plain = oxygen.get(f"{LIMITS}?{where}").text
    chosen = oxygen.get(f"{LIMITS}?{where}&circumstance=on-oxygen").text

    assert "OFF no high alarm" in words(plain)
    assert f'href="{LIMITS}?{where}&amp;circumstance=on-oxygen"' in plain
    assert "chosen by the crew" not in plain
    assert "On oxygen: chosen by the crew." in words(chosen)
    assert "by circumstance above 94 %" in words(chosen)
    assert f'href="{LIMITS}?{where}"' in chosen


def test_a_circumstance_is_offered_and_answered_only_where_it_applies(oxygen: TestClient) -> None:
    assert "On oxygen" not in oxygen.get(f"{LIMITS}?age=7+mo").text
    wrong = oxygen.get(f"{LIMITS}?age=7+mo&circumstance=on-oxygen")
    assert wrong.status_code == 404
    assert "alarm below" not in wrong.text


def test_the_label_says_what_is_set_by_hand_on_the_model(visits: Visits) -> None:
    document = a_document() | {"models": {"petrel": PETREL}}
    visits.seed(lambda tx: a_signed_revision(tx, document=document))
    visits.seed(lambda tx: a_device(tx, "air-1", model="petrel"))

    page = words(TestClient(visits.app).get("/skerry/d/air-1/values").text)

    assert "Choose preset SMALL . It holds the values of Infant, so set:" in page
    assert "Heart rate low: alarm below 100 /min (the preset holds below 90 /min)" in page
    assert "Heart rate high: shows above 140 /min for the policy’s above 150 /min" in page


def test_the_label_says_that_nothing_is_set_by_hand_where_it_is_so(visits: Visits) -> None:
    keys = [category["key"] for category in a_document()["categories"]]
    own = {"presets": {key.upper(): {"carries": key, "serves": [key]} for key in keys}}
    document = a_document() | {"models": {"dunlin": own}}
    visits.seed(lambda tx: a_signed_revision(tx, document=document))
    visits.seed(a_device)

    page = words(TestClient(visits.app).get("/skerry/d/boat-3/values").text)

    assert "Nothing: every category has a preset with its own values on a dunlin." in page


class TestByWeight:
    def test_a_weight_that_may_mean_several_categories_leaves_the_choice(
        self, anybody: TestClient
    ) -> None:
        page = anybody.get(LIMITS, params={"weight": "9,5"}).text

        assert "By weight alone (9.5 kg" in page
        assert "Ask the age or the birth date" in page
        assert "the likeliest by weight" in page
        assert 'class="signs"' not in page

    def test_a_heavy_weight_never_means_adult(self, anybody: TestClient) -> None:
        page = anybody.get(LIMITS, params={"weight": "80"}).text

        assert "Weight alone cannot tell a heavy child from an adult" in page
        assert 'class="signs"' not in page

    @pytest.mark.parametrize("typed", ["heavy", "0.1", "651", "1e2", "-3", "٣"])
    def test_what_is_no_weight_is_told(self, anybody: TestClient, typed: str) -> None:
        answer = anybody.get(LIMITS, params={"weight": typed})

        assert answer.status_code == 422

    def test_an_age_goes_before_a_weight(self, anybody: TestClient) -> None:
        page = anybody.get(LIMITS, params={"weight": "80", "age": "3 y"}).text

        assert "By age: 3 years" in page


@pytest.fixture
def gone(visits: Visits) -> TestClient:
    """Nobody signed in, after the only revision was withdrawn."""
    visits.seed(a_signed_revision)
    visits.now += DAY
    visits.seed(lambda tx: withdrawn(tx, now=visits.now))
    return TestClient(visits.app)


class TestWithdrawn:
    @pytest.mark.parametrize("params", [{}, {"age": "7 mo"}, {"category": "adult"}])
    def test_the_last_revision_is_shown_and_never_as_current(
        self, gone: TestClient, params: dict[str, str]
    ) -> None:
        page = words(gone.get(LIMITS, params=params).text)

        assert "Withdrawn on 3 Mar 2026, 09:00 GMT: not in force." in page
        assert "No revision is in force now." in page
        assert page.index("not in force") < page.index("was in force from 2 Mar 2026 to 3 Mar")
        assert "in force since" not in page

    def test_its_limits_are_below_the_banner(self, gone: TestClient) -> None:
        page = words(gone.get(LIMITS, params={"age": "7 mo"}).text)

        assert page.index("not in force") < page.index("alarm below 90 /min")

    def test_a_label_says_that_none_is_in_force(self, visits: Visits, gone: TestClient) -> None:
        visits.seed(a_device)

        page = words(gone.get("/skerry/d/boat-3").text)

        assert "No policy is in force. Revision 1 was withdrawn on 3 Mar 2026" in page

    def test_programs_are_told_of_no_limits(self, gone: TestClient) -> None:
        assert gone.get("/api/v1/skerry/limits", params={"age": "7 mo"}).status_code == 404

    def test_the_next_revision_ends_it(self, visits: Visits, gone: TestClient) -> None:
        visits.seed(lambda tx: a_signed_revision(tx, now=visits.now))

        page = words(gone.get(LIMITS, params={"age": "7 mo"}).text)
        assert "Withdrawn" not in page
        assert "Revision 2, in force since 3 Mar 2026" in page


def test_past_its_review_a_revision_says_that_it_has_expired(
    visits: Visits, anybody: TestClient
) -> None:
    last = words(anybody.get(LIMITS, params={"age": "7 mo"}).text)
    assert "expires on 2 Mar 2027" in last
    assert "Expired on" not in last

    visits.now += 366 * DAY
    page = words(anybody.get(LIMITS, params={"age": "7 mo"}).text)
    assert "Expired on 2 Mar 2027. Nobody has renewed revision 1 since." in page
    assert page.index("Expired on") < page.index("alarm below 90 /min")


def test_pressures_stand_as_they_are_spoken(visits: Visits) -> None:
    document = a_document()
    document["settings"]["infant"] |= {
        "nibp-systolic-low": _on(70),
        "nibp-diastolic-low": {"state": "off", "reason": "the mean guards it"},
        "nibp-mean-low": _on(45, delay_s=10),
    }
    visits.seed(lambda tx: a_signed_revision(tx, document=document))

    page = words(TestClient(visits.app).get(LIMITS, params={"age": "7 mo"}).text)

    assert "NIBP systolic/diastolic (mean) alarm below 70 / OFF ( 45 ) mmHg" in page
    assert "mean: medium after 10 s" in page
    assert "NIBP diastolic low: the mean guards it" in page


def _on(limit: float, **more: object) -> dict[str, object]:
    usual = {"priority": "medium", "delay_s": 5, "latching": False}
    return {"state": "on", "limit": limit, "reason": "so", "source": "ours", **usual, **more}


class TestOnAModel:
    @pytest.fixture
    def petrel(self, visits: Visits) -> TestClient:
        document = a_document() | {"models": {"petrel": PETREL}}
        visits.seed(lambda tx: a_signed_revision(tx, document=document))
        return TestClient(visits.app)

    def test_the_label_leads_to_the_limits_of_its_model(
        self, visits: Visits, petrel: TestClient
    ) -> None:
        visits.seed(lambda tx: a_device(tx, "air-1", model="petrel"))

        page = petrel.get("/skerry/d/air-1").text

        assert page.count(f'method="get" action="{LIMITS}"><input type="hidden" name="model"') == 3
        assert f'href="{LIMITS}?category=infant&amp;model=petrel"' in page

    def test_numbers_are_those_that_it_can_be_set_to(self, petrel: TestClient) -> None:
        page = words(petrel.get(LIMITS, params={"age": "2 y", "model": "petrel"}).text)

        assert "On a petrel: choose preset SMALL" in page
        assert "set by hand alarm below" in page
        assert "above 160 /min signed as 170 /min" in page

    def test_the_model_goes_along_to_the_next_question(self, petrel: TestClient) -> None:
        page = petrel.get(LIMITS, params={"category": "adult", "model": "petrel"}).text

        assert '<input type="hidden" name="model" value="petrel">' in page
        assert "category=infant&amp;model=petrel" in page
        answer = petrel.get(
            LIMITS, params={"n": "7", "unit": "mo", "model": "petrel"}, follow_redirects=False
        )
        assert answer.headers["location"] == f"{LIMITS}?age=7+mo&model=petrel"

    def test_an_unknown_model_is_not_found(self, petrel: TestClient) -> None:
        assert petrel.get(LIMITS, params={"age": "2 y", "model": "gannet"}).status_code == 404
