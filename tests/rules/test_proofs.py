"""What must hold of the shipped rules themselves, over all of them and all generated cases."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Iterator

import pytest

from rules import RuleBase
from rules.accounts import amount, settle
from rules.engine import evaluate
from rules.model import TARGET_UNITS, Condition, Confidence, Rule, Severity, Stage, Target, Verdict
from tests.rules import oracle
from tests.rules.conftest import CASES, ROOT

Evaluated = list[tuple[list[oracle.Fired], set[str]]]

KNOWN_BEFORE = {"boat", "load", "crew", "rider", "water"}
KNOWN_AT = {
    Stage.LIMITS: KNOWN_BEFORE,
    Stage.NEED: KNOWN_BEFORE,
    Stage.LOADING: KNOWN_BEFORE,
    Stage.BASE: KNOWN_BEFORE | {"plan"},
    Stage.CORRECTIONS: KNOWN_BEFORE | {"plan"},
    Stage.CHECKS: KNOWN_BEFORE | {"plan", "attitude"},
}
"""The kinds of fact that the use case tells before each stage."""

RANGES = {
    Target.SPEED: (16.0, 19.3),
    Target.CENTRE_PLATE: (20.0, 80.0),
    Target.OFF_SIDE_PLATE: (0.0, 90.0),
    Target.SURF_SIDE_PLATE: (0.0, 0.0),
    Target.BALLAST: (60.0, 105.0),
    Target.OFF_SIDE_BALLAST: (-10.0, -10.0),
    Target.LEAN: (1.5, 6.0),
    Target.BOW_UP: (-0.1, 1.1),
}
"""Speed 16 to 19.3 km/h, centre plate normally 20 to 80 %: common practice."""

NAMES = {
    "Army", "Blais", "CDC", "CFR", "Coast", "Corps", "DNR", "EM", "Engineers", "Fisheries",
    "Froude", "GPS", "Girod", "Goudey", "Guard", "II", "Mercier-Blais", "Michigan",
    "Minnesota", "NIOSH", "Prairie", "Project", "Quebec", "Report", "SAFL", "TEOS-10", "US",
    "University", "Vermont", "What",
}  # fmt: skip
"""Sources, places and standards that the rules may name, and "What if", the page's own words;
anything else might be a brand."""

BY_SHORT_NAME = {"defaults", "crew"}
"""Topics whose parameters the code reads by their names within the topic."""

PLACEHOLDER = re.compile(r"\{(\$?)([a-z_]+\.[a-z_]+)\}")


def texts(base: RuleBase) -> Iterator[tuple[str, str]]:
    """Every text that anybody reads, with where it stands."""
    for topic in base.topics:
        yield from ((topic.name, text) for text in (topic.title, topic.about))
        for parameter in topic.parameters:
            yield from (
                (parameter.name, text)
                for text in (parameter.says, parameter.source, parameter.change)
            )
        for rule in topic.rules:
            yield from ((rule.id, text) for text in rule_texts(rule))
    for kind in base.fields.values():
        yield from ((field.path, field.says) for field in kind.values())


def rule_texts(rule: Rule) -> list[str]:
    said = [rule.title, rule.because, rule.source, rule.other_view]
    said += [text for caution in rule.cautions for text in (caution.text, caution.action)]
    return said + [text for watch in rule.watch for text in (watch.look, watch.lever)]


def wish_cases(base: RuleBase) -> Iterator[tuple[oracle.Facts, list[Rule], set[str]]]:
    """Every combination of level and wishes, with the rules that fire."""
    facts = oracle.facts(base.documents, base.facts, 1, whole=True)
    facts["boat"]["centre_plate"] = "yes"
    names = ("level", "shape", "length", "push")
    for words in itertools.product(*(base.fields["rider"][name].words for name in names)):
        facts["rider"].update(zip(names, words, strict=True))
        firings, found = evaluate(base, facts, list(Stage))
        yield facts, [firing.rule for firing in firings], found


# -- every rule can fire, and only when its facts are known ------------------------------------


def test_every_rule_fires_in_some_generated_case(base: RuleBase, evaluated: Evaluated) -> None:
    fired = Counter(f.rule for firings, _ in evaluated for f in firings)
    rarest = sorted((fired[rule], rule) for rule in base.rules)
    print(f"rarest of {len(base.rules)} rules in {CASES} cases:", rarest[:8])  # noqa: T201
    assert rarest[0][0] > 0, rarest[0][1]


def test_every_rule_with_conditions_stays_silent_in_some_case(
    base: RuleBase, evaluated: Evaluated
) -> None:
    fired = Counter(f.rule for firings, _ in evaluated for f in firings)
    assert all(fired[r.id] < len(evaluated) for r in base.rules.values() if r.when)


def test_a_rule_asks_only_what_is_known_at_its_stage(base: RuleBase) -> None:
    for rule in base.rules.values():
        kinds = {field.kind for field in rule.facts}
        assert kinds <= KNOWN_AT[rule.stage], rule.id


def test_what_decides_the_surf_side_asks_the_rider_alone(base: RuleBase) -> None:
    """The side is chosen before anything else is known, and exactly one rule chooses it."""
    fields = base.fields["rider"]
    for rule in base.rules.values():
        if rule.side:
            assert {field.kind for field in rule.facts} == {"rider"}, rule.id
    facts = oracle.facts(base.documents, base.facts, 0, whole=True)
    for stance, told in itertools.product(fields["stance"].words, fields["side_told"].words):
        facts["rider"] |= {"stance": stance, "side_told": told}
        firings, _ = evaluate(base, {"rider": facts["rider"]}, [Stage.NEED])
        sides = [firing.rule.side for firing in firings if firing.rule.side]
        assert len(sides) == (0 if stance == "untold" and told == "none" else 1)
        if told != "none":
            assert sides == [told]
        elif stance != "untold":
            # common practice: left foot forward rides port, right foot forward starboard
            assert sides == [{"regular": "port", "goofy": "starboard"}[stance]]


# -- targets ----------------------------------------------------------------------------------


def test_no_case_gives_a_target_two_bases_or_a_bound_twice(
    base: RuleBase, evaluated: Evaluated
) -> None:
    """Additions commute; with one base and one bound each way no order can matter."""
    for firings, _ in evaluated:
        single = Counter(
            (change.target, change.action)
            for fired in firings
            for change in base.rules[fired.rule].changes
            if change.action != "add"
        )
        assert all(count == 1 for count in single.values()), single


def test_no_two_rules_bound_one_target(base: RuleBase) -> None:
    bounds = Counter(
        (change.target, change.action)
        for rule in base.rules.values()
        for change in rule.changes
        if change.action in ("at_least", "at_most")
    )
    assert max(bounds.values()) == 1


def test_every_target_stays_in_its_range(base: RuleBase) -> None:
    reached: dict[Target, list[float]] = {target: [] for target in Target}
    for seed in range(min(CASES, 1500)):
        facts = oracle.facts(base.documents, base.facts, seed, whole=True)
        firings, _ = evaluate(base, facts, list(Stage))
        for target, (low, high) in RANGES.items():
            found = settle(base, firings, target, TARGET_UNITS[target])
            if found is not None:
                assert low <= float(found.value) <= high, (target, facts)
                reached[target].append(float(found.value))
    for target, values in reached.items():
        low, high = RANGES[target]
        assert values, target
        assert max(values) - min(values) >= 0.6 * (high - low) or target is Target.OFF_SIDE_PLATE


# -- wishes -----------------------------------------------------------------------------------


def test_no_wish_is_given_up_for_one_that_is_given_up_itself(base: RuleBase) -> None:
    for facts, fired, found in wish_cases(base):
        ids = {rule.id for rule in fired}
        if "steeper_given_up" in found:
            assert not ids & {"wishes.steeper_first", "wishes.steeper_over_less_push"}, facts


def test_wishes_that_pull_one_lever_two_ways_are_said_to(base: RuleBase) -> None:
    wishes = {"shape", "length", "push"}
    pulled = 0
    for facts, fired, _ in wish_cases(base):
        pulls: dict[Target, dict[str, float]] = {}
        for rule in fired:
            asked = {field.name for field in rule.facts} & wishes
            for change in rule.changes if asked else ():
                (wish,) = asked
                way = pulls.setdefault(change.target, {})
                way[wish] = way.get(wish, 0.0) + amount(base.parameters, change.amount, {})
        for ways in pulls.values():
            if min(ways.values()) < 0 < max(ways.values()):
                pulled += 1
                assert any(
                    {field.name for field in rule.facts} & wishes == set(ways)
                    for rule in fired
                    if rule.topic == "wishes" and rule.cautions
                ), facts["rider"]
    assert pulled > 0


def test_a_first_ride_is_never_made_steeper_or_given_more_push(base: RuleBase) -> None:
    for facts, fired, _ in wish_cases(base):
        if facts["rider"]["level"] == "first_time":
            ids = {rule.id for rule in fired}
            assert not ids & {
                "centre_plate.steeper", "centre_plate.more_push", "speed.more_push",
                "balance.steeper_bow_up",
            }  # fmt: skip


# -- what each lever does: common practice ----------------------------------------------------


def rising(values: list[float]) -> bool:
    return all(a <= b for a, b in itertools.pairwise(values)) and values[0] < values[-1]


@pytest.mark.parametrize(
    ("name", "sign"),
    [
        ("off_side_plate.by_load", 1),  # more people or more ballast, more plate
        ("centre_plate.by_rider_mass", -1),  # down for light riders, up for heavy ones
        ("speed.by_rider_mass", 1),  # light riders slower, heavy riders faster
        ("speed.by_load", 1),  # a heavy hull a little faster
        ("ballast.heavy_rider_extra", 1),
        ("ballast.light_newcomer_less", 1),  # the lighter the first-timer, the less water
    ],
)
def test_curves_go_the_way_that_the_trade_holds(base: RuleBase, name: str, sign: int) -> None:
    points = base.parameters[name].value
    assert isinstance(points, tuple)
    assert rising([sign * y for _, y in points])


def test_tables_go_the_way_that_the_trade_holds(base: RuleBase) -> None:
    """Further down for newcomers and for skim-style boards (common practice)."""
    levels, boards = (base.parameters[f"centre_plate.by_{n}"].value for n in ("level", "board"))
    assert isinstance(levels, dict)
    assert isinstance(boards, dict)
    assert rising([-levels[word] for word in base.fields["rider"]["level"].words])
    assert boards["skim"] > 0 > boards["surf"]


def test_wishes_turn_the_levers_the_way_that_the_trade_holds(base: RuleBase) -> None:
    """Steeper and more push: slower, plate up, bow up. Longer and mellower: the other way."""
    for parameter, sign in {
        "speed.wish_faster": 1, "speed.wish_slower": -1, "speed.shallow": -1,
        "centre_plate.gentler": 1, "centre_plate.stronger": -1,
        "balance.bow_step": 1, "balance.bow_step_down": -1,
        "balance.lean": 1, "balance.lean_without_plate": 1, "ballast.off_side_less": -1,
    }.items():  # fmt: skip
        assert sign * base.number(parameter) > 0, parameter


@pytest.mark.parametrize(
    "names",
    [
        ("depth.under_hull", "depth.hard_landing", "depth.weak", "depth.good"),
        ("depth.transcritical", "depth.critical"),
        ("shore.nearest", "shore.middle", "shore.furthest"),
        ("attitude.lean_caution", "attitude.lean_stop"),
        ("attitude.freeboard_stop", "attitude.freeboard_caution", "attitude.bow_freeboard_caution"),
        ("speed.least", "speed.start", "speed.most"),
        ("centre_plate.least", "centre_plate.middle", "centre_plate.most"),
        ("crew.child_mass", "crew.driver_mass"),
        ("crew.observer_age", "crew.driver_age", "crew.adult_age"),
        ("off_side_plate.least", "off_side_plate.light_crew", "off_side_plate.most"),
    ],
)
def test_limits_stand_in_their_order(base: RuleBase, names: tuple[str, ...]) -> None:
    values = [base.number(name) for name in names]
    assert values == sorted(set(values))


def test_feet_and_metres_of_published_limits(base: RuleBase) -> None:
    """20 ft, 15 ft, 200 ft and 500 ft as published, to the foot: 20 ft are not under 20 ft."""
    for name, feet in {
        "depth.good": 20, "depth.weak": 15, "shore.nearest": 200, "shore.middle": 500,
    }.items():  # fmt: skip
        assert base.number(name) == pytest.approx(feet * 0.3048, abs=1e-9), name


def test_the_range_of_speed_is_that_of_the_trade(base: RuleBase) -> None:
    """10 to 12 mph, start 10.5 to 10.8 mph (common practice)."""
    mph = 1.609344
    assert base.number("speed.least") == pytest.approx(10 * mph, abs=0.1)
    assert base.number("speed.most") == pytest.approx(12 * mph, abs=0.1)
    assert 10.5 * mph <= base.number("speed.start") <= 10.8 * mph


# -- curves, tables, parameters ---------------------------------------------------------------


def test_curves_lie_within_the_facts_they_are_read_at(base: RuleBase) -> None:
    """Level beyond the ends, so every fact is covered; and no point is out of reach."""
    seen = 0
    for rule in base.rules.values():
        for change in rule.changes:
            value, field = base.parameters[change.amount.parameter].value, change.amount.field
            if isinstance(value, tuple):
                assert field is not None
                assert field.low <= value[0][0] < value[-1][0] <= field.high, rule.id
                seen += 1
            elif not isinstance(value, float):
                assert field is not None
                assert set(value) == set(field.words), rule.id
                seen += 1
    assert seen >= 7


def test_every_parameter_is_used(base: RuleBase) -> None:
    """By a rule's condition, amount or caution, or by code that names it."""
    used = {c.parameter for r in base.rules.values() for c in r.when if isinstance(c, Condition)}
    used |= {change.amount.parameter for r in base.rules.values() for change in r.changes}
    for rule in base.rules.values():
        for text in rule_texts(rule):
            used |= {name for dollar, name in PLACEHOLDER.findall(text) if dollar}
    code = "\n".join(
        path.read_text(encoding="utf-8")
        for folder in ("service", "rules", "schemas")
        for path in (ROOT / folder).rglob("*.py")
    )
    for name in set(base.parameters) - used:
        topic, short = name.split(".")
        named = f'"{name}"' in code or (topic in BY_SHORT_NAME and f'"{short}"' in code)
        assert named, f"{name} is used by nothing"


def test_parameters_say_what_they_are(base: RuleBase) -> None:
    for parameter in base.parameters.values():
        assert all((parameter.says, parameter.unit, parameter.source, parameter.change))
        assert not parameter.local


# -- words ------------------------------------------------------------------------------------


def test_every_rule_explains_itself(base: RuleBase) -> None:
    for rule in base.rules.values():
        assert rule.title, rule.id
        assert len(rule.because) > 20, rule.id
        assert rule.source, rule.id
        assert rule.confidence is not Confidence.CONTESTED or rule.other_view, rule.id


def test_titles_and_ids_are_told_apart(base: RuleBase) -> None:
    titles = Counter(rule.title for rule in base.rules.values())
    assert titles.most_common(1)[0][1] == 1, titles.most_common(3)
    assert all(re.fullmatch(r"[a-z_]+\.[a-z_]+", rule_id) for rule_id in base.rules)
    assert all(re.fullmatch(r"[a-z_]+\.[a-z_]+", name) for name in base.parameters)


def test_what_forbids_warns_of_danger(base: RuleBase) -> None:
    """A verdict always comes with a caution as grave as it is."""
    least = {Verdict.DO_NOT_GO: {Severity.DANGER}, Verdict.GO_WITH_CARE: set(Severity)}
    for rule in base.rules.values():
        if rule.verdict is not None:
            severities = {caution.severity for caution in rule.cautions}
            assert severities & least[rule.verdict] - {Severity.NOTE}, rule.id


def test_no_word_looks_like_a_brand(base: RuleBase) -> None:
    """A capital inside a sentence belongs to a source that is on the list."""
    for place, text in texts(base):
        for match in re.finditer(r"(?<![.!?:;] )(?<!^)(?<!\n)(?<!\()\b[A-Z][\w-]+", text):
            assert match.group() in NAMES, (place, match.group())
    assert not re.search("[®™]", "".join(text for _, text in texts(base)))


def test_only_the_topic_of_the_side_names_port_and_starboard(base: RuleBase) -> None:
    for place, text in texts(base):
        if not place.startswith(("surf_side", "rider.side_told")):
            assert not re.search(r"\b(port|starboard)\b", text, re.IGNORECASE), place


def test_a_caution_names_only_facts_that_are_known_whenever_its_rule_fires(
    base: RuleBase, evaluated: Evaluated, generated: list[oracle.Facts]
) -> None:
    named = 0
    for rule in base.rules.values():
        asked = {field.path for field in rule.facts}
        for text in rule_texts(rule):
            for dollar, name in PLACEHOLDER.findall(text):
                if dollar:
                    continue
                named += 1
                kind, field = name.split(".")
                assert kind in KNOWN_AT[rule.stage], (rule.id, name)
                assert not base.fields[kind][field].optional or name in asked, (rule.id, name)
    assert named > 10
    for facts, (firings, _) in zip(generated, evaluated, strict=True):
        for fired in firings:
            rule = base.rules[fired.rule]
            for text in rule_texts(rule):
                for dollar, name in PLACEHOLDER.findall(text):
                    kind, field = name.split(".")
                    if not dollar and kind in facts:
                        assert facts[kind][field] is not None, (rule.id, name)


def test_numbers_that_rules_ask_have_a_quantity_and_a_unit(base: RuleBase) -> None:
    """So that they can be printed in the reader's units."""
    for kind in base.fields.values():
        for field in kind.values():
            assert field.says
            if field.is_number:
                assert field.quantity, field.path
                assert field.unit, field.path
                assert field.low < field.high
