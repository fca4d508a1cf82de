"""The table: every rule of the design, limits that can be looked up and overridden."""

import string

import pytest

from circuit.check.finding import Finding, judge
from circuit.check.measures import MEASURES
from circuit.errors import UsageError
from circuit.part_kinds import LightPart
from circuit.rules import LIMITS, RULES, limit_of
from circuit.settings import Settings

# The fields that every text may use; what a measuring function adds is pinned by the checker's own tests.
COMMON = {"who", "measured", "limit", "short", "tape"}


def test_the_table_holds_every_rule_once():
    names = [rule.name for rule in RULES]
    assert sorted(names) == sorted(
        "light-not-bridged traces-too-close trace-overlaps-itself trace-near-edge battery-zone switch-off-card "
        "switch-covers fold-near-light folds-too-close tape-under-light joint lights-too-close light-near-edge "
        "light-outside-window cell-under-window cell-mismatch no-lane".split()
    )


def test_every_rule_but_the_search_s_outcome_is_measured():
    assert {rule.name for rule in RULES} - set(MEASURES) == {"no-lane"}
    assert set(MEASURES) <= {rule.name for rule in RULES}


@pytest.mark.parametrize("ring", [None, 4.0])
def test_the_battery_zone_is_the_cell_and_the_foam_ring_in_force(ring):
    settings = Settings(limits={} if ring is None else {"battery-zone.round-cell": ring})
    radius = settings.cell.diameter_mm / 2 + limit_of(settings, "battery-zone.round-cell")
    assert settings.battery_zone_radius_mm == radius


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_limit_belongs_to_its_rule_and_every_advice_has_both_halves(rule):
    for limit in rule.limits:
        assert limit.key == rule.name or limit.key.startswith(f"{rule.name}.")
    assert rule.words
    for words in rule.words.values():
        assert words.seen and words.do
        fields = {field for _, field, _, _ in string.Formatter().parse(words.seen + words.do) if field}
        assert all(field.isidentifier() for field in fields)


def test_a_finding_becomes_a_problem_in_words():
    rule = next(rule for rule in RULES if rule.name == "folds-too-close")
    finding = Finding("folds-too-close.turn-deg", "turn", ("negative",), (1.0, 2.0), 140.2)
    problem = judge(rule, finding, Settings())
    assert problem.unit == "deg"
    assert problem.advice == (
        "The negative tape turns by 140° in one fold; 135° is the most that folds flat: make two folds of it."
    )
    assert (
        judge(rule, Finding("folds-too-close.turn-deg", "turn", ("negative",), (1, 2), 135), Settings())
        is None
    )


def test_a_limit_of_the_makers_own_comes_first():
    assert limit_of(Settings(), "trace-near-edge") == 3.0
    assert limit_of(Settings(limits={"trace-near-edge": 4.5}), "trace-near-edge") == 4.5
    assert limit_of(Settings(limits={"trace-near-edge": 4.5}), "lights-too-close") == 7.0


@pytest.mark.parametrize("key", ["trace-near-egde", "light-not-bridged", ""])
def test_a_limit_that_no_rule_has_is_wrong_use(key):
    with pytest.raises(UsageError, match="no rule limit called"):
        limit_of(Settings(limits={key: 1.0}), "trace-near-edge")


@pytest.mark.parametrize("value", [-1.0, float("nan"), float("inf")])
def test_a_limit_that_is_no_length_is_wrong_use(value):
    with pytest.raises(UsageError, match="must be 0 or more"):
        limit_of(Settings(limits={"trace-near-edge": value}), "trace-near-edge")


def test_a_key_that_the_program_itself_gets_wrong_is_no_users_error():
    with pytest.raises(KeyError):
        limit_of(Settings(), "no-such-limit")


def test_limits_for_the_usual_light_are_the_tables_and_smaller_lights_keep_their_share():
    assert {key: limit_of(Settings(), key) for key in LIMITS} == {
        key: limit.default for key, limit in LIMITS.items()
    }
    # 3.2 mm over a 2.5 mm gap: 0.35 mm under each side, less than the 0.5 mm that any part needs.
    small = Settings(light=LightPart("own", 3.2, 1.6, 1.0))
    assert limit_of(small, "light-not-bridged.off-midline") == 0.0
    assert limit_of(small, "light-not-bridged.overlap") == 0.5
    assert limit_of(small, "light-not-bridged.straight") == 1.6
    # A bigger light gains nothing: the limits are about tape and hands.
    big = Settings(light=LightPart("own", 6.0, 6.0, 2.0))
    assert limit_of(big, "light-not-bridged.off-midline") == 0.5
    assert limit_of(big, "light-not-bridged.overlap") == 0.75
