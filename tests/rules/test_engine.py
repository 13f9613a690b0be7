"""The gateway to the rule engine: one test for each of the engine's traps."""

from __future__ import annotations

import math
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import durable_rules_engine as native
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules import RuleBase, engine
from rules.engine import EngineError, FactError, evaluate, rounded
from rules.model import Facts, Firing, Stage
from tests.rules import oracle
from tests.rules.conftest import ROOT, small

HEAVY = small({"when": ["rider.mass > $topic.heavy"]}, heavy=80)


def told(**rider: Any) -> dict[str, dict[str, Any]]:
    facts = oracle.facts(HEAVY.documents, HEAVY.facts, 0, whole=True)
    facts["rider"].update({"mass": 82.0, "board": "surf", "level": "expert"}, **rider)
    return facts


def fired(base: RuleBase, facts: Facts, *stages: Stage) -> list[str]:
    return [f.rule.id for f in evaluate(base, facts, stages or tuple(Stage))[0]]


def in_a_process_of_its_own(code: str) -> str:
    """Runs ``code`` where a crash of the engine takes nothing else with it."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 0, (done.returncode, done.stdout, done.stderr)
    return done.stdout


# -- what the engine swallows or refuses ------------------------------------------------------


def test_an_exception_in_an_action_is_raised(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise ZeroDivisionError("in the action")

    with monkeypatch.context() as patch:
        patch.setattr(engine, "_bound", fail)
        with pytest.raises(ZeroDivisionError):
            evaluate(HEAVY, told(), list(Stage))
    assert fired(HEAVY, told()) == ["topic.r0"], "the next evaluation is not touched by it"


def test_even_a_system_exit_in_an_action_is_raised(monkeypatch: pytest.MonkeyPatch) -> None:
    def leave(*_: object) -> None:
        raise SystemExit

    monkeypatch.setattr(engine, "_bound", leave)
    with pytest.raises(SystemExit):
        evaluate(HEAVY, told(), list(Stage))


def test_facts_that_no_rule_can_use_do_no_harm() -> None:
    base = small({"when": ["rider.mass > 80"]})
    assert fired(base, told()) == ["topic.r0"]


def test_sessions_in_which_no_rule_fires_survive() -> None:
    """Freeing a session in which nothing at all fired kills the process."""
    out = in_a_process_of_its_own("""
from tests.rules.test_engine import HEAVY, told
from rules.engine import evaluate
from rules.model import Stage
for _ in range(50):
    assert evaluate(HEAVY, told(mass=60.0), list(Stage)) == ([], set())
    assert evaluate(HEAVY, told(mass=60.0), []) == ([], set())
print("alive")
""")
    assert out == "alive\n"


def test_no_facts_at_all_survive() -> None:
    """An empty batch kills the process."""
    out = in_a_process_of_its_own("""
from tests.rules.test_engine import HEAVY, small
from rules.engine import evaluate
from rules.model import Stage
always = small(
    {"when": []},
    {"when": ["not found x"]},
    {"stage": "limits", "when": ["rider.mass > 9"], "finds": "x"},
)
for stages in ([], list(Stage)):
    assert evaluate(HEAVY, {}, stages) == ([], set())
print([f.rule.id for f in evaluate(always, {}, list(Stage))[0]])
""")
    assert out == "['topic.r0', 'topic.r1']\n"


def test_the_same_facts_twice_give_the_same_answer(base: RuleBase) -> None:
    facts = oracle.facts(base.documents, base.facts, 5, whole=True)
    first = evaluate(base, facts, list(Stage))
    assert evaluate(base, facts, list(Stage)) == first
    assert first[0]


def test_a_failed_engine_call_is_an_engine_error(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise native.error("error 204")

    monkeypatch.setattr(native, "assert_facts", refuse)
    with pytest.raises(EngineError, match="refused the facts: error 204"):
        evaluate(HEAVY, told(), list(Stage))


# -- numbers and words ------------------------------------------------------------------------


@given(st.floats(0.0, 500.0) | st.floats(0.0, 1e-3) | st.floats(79.999, 80.001))
def test_any_number_in_its_range_goes_in_and_is_compared_to_four_decimals(mass: float) -> None:
    firings, _ = evaluate(HEAVY, told(mass=mass), list(Stage))
    assert bool(firings) == (round(mass, 4) > 80)
    assert all(f.bound["rider.mass"] == round(mass, 4) for f in firings)


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e9, max_value=1e9))
def test_rounded_numbers_print_without_an_exponent_or_a_negative_zero(value: float) -> None:
    seen = rounded(value)
    assert "e" not in repr(seen)
    assert math.copysign(1.0, seen) == 1.0 or seen < 0
    assert abs(seen - value) <= 0.5e-4 * (1 + 1e-9) + abs(value) * 1e-15


@pytest.mark.parametrize("value", [5e-05, 1e-300, 0.00001])
def test_thresholds_that_print_with_an_exponent(value: float) -> None:
    base = HEAVY.with_values({"topic.heavy": value})
    assert fired(base, told(mass=82.0)) == ["topic.r0"]
    assert fired(base, told(mass=0.0)) == []


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("mass", math.nan, "outside"),
        ("mass", math.inf, "outside"),
        ("mass", -math.inf, "outside"),
        ("mass", 1e16, "outside 0.0 to 500.0"),
        ("mass", -0.1, "outside"),
        ("mass", True, "not a number"),
        ("mass", "82", "not a number"),
        ("mass", None, "not a number"),
        ("board", "wake", "not one of skim, surf"),
        ("board", 1.0, "not one of"),
        ("board", None, "not one of"),
        ("board", True, "not one of"),
        ("weight", 82.0, "no such fact: rider"),
    ],
)
def test_facts_of_the_wrong_form_are_refused(field: str, value: Any, message: str) -> None:
    with pytest.raises(FactError, match=message):
        evaluate(HEAVY, told(**{field: value}), list(Stage))


def test_a_kind_of_fact_that_is_not_declared_is_refused() -> None:
    with pytest.raises(FactError, match="no such fact: moon"):
        evaluate(HEAVY, told() | {"moon": {"phase": "full"}}, list(Stage))


def test_integers_are_numbers_like_any_other() -> None:
    half = small({"when": ["rider.mass > 80.5"]})
    assert fired(half, told(mass=81)) == ["topic.r0"]
    assert fired(half, told(mass=80)) == []
    ((firing,), _) = evaluate(HEAVY, told(mass=81), list(Stage))
    assert type(firing.bound["rider.mass"]) is float


def test_words_are_compared_as_words() -> None:
    base = small({"when": ["rider.board is skim"]}, {"when": ["rider.board is not skim"]})
    assert fired(base, told(board="skim")) == ["topic.r0"]
    assert fired(base, told(board="surf")) == ["topic.r1"]


# -- joins, unknown facts, order --------------------------------------------------------------


def test_two_conditions_on_one_kind_must_both_hold() -> None:
    base = small({"when": ["rider.mass > 80", "rider.board is skim"]})
    assert fired(base, told(board="skim")) == ["topic.r0"]
    assert fired(base, told(board="surf")) == []


def test_an_unknown_fact_stops_only_the_rules_that_ask_for_it() -> None:
    base = small(
        {"when": ["water.depth < 6"]},
        {"when": ["water.depth >= 6"]},
        {"when": ["water.depth is unknown"]},
        {"when": ["plan.water_mass > water.depth"]},
        {"when": ["water.kind is fresh"]},
        {"base": {"speed": "$topic.c at water.depth"}},
        c=[[0, 0], [1, 1]],
    )
    facts = told()
    facts["water"] = {"kind": "fresh", "depth": None, "distance_to_shore": None}
    assert fired(base, facts) == ["topic.r2", "topic.r4"]
    facts["water"]["depth"] = 0.0
    facts["plan"]["water_mass"] = 100.0
    assert fired(base, facts) == [f"topic.r{i}" for i in (0, 3, 4, 5)]


def test_rules_fire_in_declared_order() -> None:
    mixed = ["checks", "need", "base", "need", "checks", "limits"] * 5
    base = small(*({"stage": stage, "when": ["rider.mass > 0"]} for stage in mixed))
    stages = [stage.value for stage in Stage]
    expected = sorted(range(30), key=lambda i: (stages.index(mixed[i]), i))
    assert fired(base, told()) == [f"topic.r{i}" for i in expected]


def test_only_the_stages_that_were_asked_for_run() -> None:
    base = small({"stage": "limits"}, {"stage": "need"}, {"stage": "checks"})
    assert fired(base, told(), Stage.NEED) == ["topic.r1"]


def test_what_was_found_before_is_known() -> None:
    base = small(
        {"stage": "limits", "finds": "a"},
        {"stage": "need", "when": ["found a"]},
        {"stage": "need", "when": ["not found a"]},
    )
    firings, found = evaluate(base, told(), [Stage.NEED], {"a"})
    assert [f.rule.id for f in firings] == ["topic.r1"]
    assert found == {"a"}
    assert fired(base, told(), Stage.NEED) == ["topic.r2"]


def test_what_a_rule_bound_is_recorded() -> None:
    """Comes out of a private member of the engine's context; this holds it."""
    base = small(
        {
            "when": ["rider.mass > 80", "load.load_over < plan.water_mass", "rider.board is surf"],
            "base": {"speed": "$topic.c at load.people"},
        },
        {"when": ["water.depth is unknown", "water.kind is salt"]},
        c=[[0, 0], [1, 1]],
    )
    facts = told(mass=82.00004)
    facts["load"] |= {"load_over": -100.0, "people": 3.0}
    facts["plan"] |= {"water_mass": 1000.12344}
    facts["water"] = {"kind": "salt", "depth": None, "distance_to_shore": None}
    first, second = evaluate(base, facts, list(Stage))[0]
    assert first == Firing(
        base.rules["topic.r0"],
        {
            "rider.mass": 82.0,
            "load.load_over": -100.0,
            "rider.board": "surf",
            "plan.water_mass": 1000.1234,
            "load.people": 3.0,
        },
    )
    assert second.bound == {"water.kind": "salt"}, "an unknown fact binds nothing"


# -- limits, memory, threads, forks -----------------------------------------------------------


def test_more_firings_than_the_limit_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    base = small(*({"when": []} for _ in range(100)))
    assert len(fired(base, told())) == 100
    monkeypatch.setattr(engine, "MOST_FIRINGS", 99)
    with pytest.raises(EngineError, match="more than 99 firings"):
        evaluate(base, told(), list(Stage))


def test_as_many_patterns_on_one_kind_of_fact_as_are_let_in_all_match() -> None:
    """The engine's stack holds 64; beyond that the assert fails, for facts that match them all."""
    most = engine.MOST_PATTERNS
    rules = [{"when": [f"rider.mass > {number}"]} for number in range(most)]
    assert len(fired(small(*rules), told(mass=82.0))) == most
    with pytest.raises(EngineError, match=f"{most + 1} different patterns on rider"):
        fired(small(*rules, {"when": [f"rider.mass > {most}"]}), told(mass=82.0))


def test_rule_bases_beyond_the_most_that_are_kept_are_freed() -> None:
    """Each set of local values is a rule base of its own; 1.2 MB each while it is kept."""
    out = in_a_process_of_its_own("""
from pathlib import Path
from rules import engine, load
from rules.model import Stage
from tests.rules import oracle
base = load()
facts = oracle.facts(base.documents, base.facts, 0, whole=True)
facts["rider"]["mass"] = 41.0
def resident():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4
def child(limit):
    local = base.with_values({"watch.child": limit})
    fired, _ = engine.evaluate(local, facts, list(Stage))
    return "watch.child" in [f.rule.id for f in fired]
answers = []
for number in range(114):
    answers.append(child(number))
    if number == 64:
        before = resident()
assert answers == [number > 41 for number in range(114)]
assert not child(0) and child(50)
assert len(engine._rulesets) == engine.MOST_RULESETS
print(resident() - before)
""")
    assert int(out) < 8000, "kB grown over 50 rule bases"


def test_two_rule_bases_side_by_side() -> None:
    local = HEAVY.with_values({"topic.heavy": 85})
    for mass, expected in ((82.0, (True, False)), (90.0, (True, True)), (70.0, (False, False))):
        for _ in range(3):
            assert bool(fired(HEAVY, told(mass=mass))) == expected[0]
            assert bool(fired(local, told(mass=mass))) == expected[1]


def test_a_rule_base_read_in_another_order_fires_the_same() -> None:
    """Equal content has an equal hash and shares the engine's rules, whatever the order."""
    from rules import load
    from rules.base import read

    base = load()
    turned = read(dict(reversed(list(base.documents.items()))), base.facts)
    facts = oracle.facts(base.documents, base.facts, 8, whole=True)
    assert turned.hash == base.hash
    assert evaluate(turned, facts, list(Stage)) == evaluate(base, facts, list(Stage))


def test_sessions_are_freed() -> None:
    """1,024 live sessions are the engine's most; memory stays flat over three times as many."""
    out = in_a_process_of_its_own("""
from pathlib import Path
from rules import engine, load
from rules.model import Stage
from tests.rules import oracle
base = load()
facts = [oracle.facts(base.documents, base.facts, seed) for seed in range(50)]
def resident():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4
for number in range(3500):
    engine.evaluate(base, facts[number % 50], list(Stage))
    if number == 500:
        before = resident()
print(resident() - before)
""")
    assert int(out) < 2000, "kB grown over 3,000 evaluations"


def test_a_failed_action_frees_its_session_too() -> None:
    out = in_a_process_of_its_own("""
from rules import engine
from rules.model import Stage
from tests.rules.test_engine import HEAVY, told
def fail(*_):
    raise ValueError
engine._bound = fail
refused = 0
for _ in range(1100):
    try:
        engine.evaluate(HEAVY, told(), list(Stage))
    except ValueError:
        refused += 1
print(refused)
""")
    assert out == "1100\n"


def test_eight_threads_at_once() -> None:
    out = in_a_process_of_its_own("""
import sys
from tests.rules.test_engine import hammer
sys.setswitchinterval(1e-6)
print(hammer(8))
""")
    assert out == "True\n"


def hammer(threads: int) -> bool:
    """Whether so many threads at once answer what one alone answers, with two rule bases."""
    from rules import load

    base = load()
    local = base.with_values({"depth.weak": 5.0})
    cases = [
        (rules, oracle.facts(base.documents, base.facts, seed))
        for seed in range(60)
        for rules in (base, local)
    ]
    with ThreadPoolExecutor(threads) as pool:  # first thing in the process: they race to register
        together = [
            list(pool.map(lambda case: evaluate(case[0], case[1], list(Stage)), cases))
            for _ in range(5)
        ]
    alone = [evaluate(rules, facts, list(Stage)) for rules, facts in cases]
    if any(answers != alone for answers in together):
        return False
    return alone[0::2] != alone[1::2]  # and the two rule bases were told apart


def test_no_timer_thread_runs() -> None:
    out = in_a_process_of_its_own("""
import threading
from tests.rules.test_engine import HEAVY, fired, told
assert fired(HEAVY, told()) == ["topic.r0"]
print(threading.active_count())
""")
    assert out == "1\n"


@pytest.mark.parametrize("before", [True, False], ids=["used before the fork", "only after it"])
def test_forks(before: bool) -> None:
    """A server that forks its workers may have loaded, or even used, the rules before."""
    out = in_a_process_of_its_own(f"""
import os
from rules import load
from rules.engine import evaluate
from rules.model import Stage
from tests.rules import oracle
base = load()
cases = [oracle.facts(base.documents, base.facts, seed) for seed in range(20)]
def answers():
    return [[f.rule.id for f in evaluate(base, facts, list(Stage))[0]] for facts in cases]
if {before}:
    answers()
children = []
for _ in range(3):
    read, write = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.write(write, str(hash(str(answers()))).encode())
        os._exit(0)
    os.close(write)
    children.append((pid, read))
told = {{os.read(read, 100) for _, read in children}}
assert all(os.waitpid(pid, 0)[1] == 0 for pid, _ in children)
assert told == {{str(hash(str(answers()))).encode()}}
print("same")
""")
    assert out == "same\n"
