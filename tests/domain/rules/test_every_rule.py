import re

import pytest

from app.domain.findings import Severity
from app.domain.rules import RULES, Rule, check
from tests.domain.rules.questions import OFF, profile_of
from tests.worked_profiles import on


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.key)
def test_every_rule_has_key_sentence_severity_and_source(rule: Rule) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", rule.key)
    assert rule.sentence.endswith(".")
    assert isinstance(rule.severity, Severity)
    assert rule.source
    assert (rule.ask is None) != (rule.ask_profile is None)


def test_no_two_rules_share_a_key() -> None:
    assert len({rule.key for rule in RULES}) == len(RULES)


def test_every_finding_is_of_a_rule_names_its_source_and_comes_gravest_first() -> None:
    settings = {
        "heart-rate-low": on(130),
        "heart-rate-high": on(120),
        "spo2-low": on(20),
        "asystole": OFF,
    }

    found = check(profile_of(settings))

    told = {finding.rule for finding in found}
    assert told <= {rule.key for rule in RULES}
    assert told >= {"category-gap", "limit-order", "silent-gap", "life-threat-off"}
    assert all(finding.source and finding.message for finding in found)
    weights = [finding.severity.weight for finding in found]
    assert weights == sorted(weights)
