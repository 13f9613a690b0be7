"""The documented signs, moves and rules, and the reading of them."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from rules.files import read_yaml
from rules.model import Stage, Turn
from rules.reading import RuleError
from rules.tuning import TuningBase
from rules.tuning.base import FOLDER, assemble
from service.advice.tuning.requests import Strength


def documents() -> dict[str, Any]:
    return {p.stem: read_yaml(p) for p in FOLDER.glob("*.yaml")}


def test_there_are_signs_for_wave_rider_and_boat(base: TuningBase) -> None:
    about = [sign.about for sign in base.signs.values()]
    assert len(about) >= 14
    assert set(about) == {"wave", "rider", "boat"}
    assert {"bow_diving", "porpoising", "wandering", "spray_over_bow"} <= set(base.signs)


def test_every_sign_is_a_sentence_and_can_be_told_from_its_look_alike(base: TuningBase) -> None:
    for sign in base.signs.values():
        assert sign.says.endswith("."), sign.name
        assert sign.look_alike != sign.name
        assert len(sign.tell.split()) >= 5, sign.name
        assert sign.gone


def test_every_sign_leads_somewhere(base: TuningBase) -> None:
    """A rule asks for it that proposes, stops or asks back."""
    asked = {
        field.name
        for rule in base.rules.rules.values()
        if rule.proposals or rule.verdict or rule.asks
        for field in rule.facts
        if field.kind == "seen"
    }
    assert asked == set(base.signs)


def test_every_move_is_proposed_by_a_rule_or_asked_for_by_the_session(base: TuningBase) -> None:
    proposed = {p.move for rule in base.rules.rules.values() for p in rule.proposals}
    assert set(base.moves) - proposed == {"put_back", "half_way_back"}


def test_opposites_are_mutual(base: TuningBase) -> None:
    for move in base.moves.values():
        if move.opposite and move.name != "off_side_water_out":
            assert base.moves[move.opposite].opposite == move.name


def test_what_contradicts_has_opposite_remedies(base: TuningBase) -> None:
    def remedies(sign: str) -> set[str]:
        return {
            proposal.move
            for rule in base.rules.rules.values()
            for proposal in rule.proposals
            if f"seen.{sign}" in {field.path for field in rule.facts}
        }

    pairs = [(sign, other) for sign in base.signs.values() for other in sign.contradicts]
    assert len(pairs) >= 2 * 3
    for sign, other in pairs:
        opposite = {base.moves[move].opposite for move in remedies(sign.name)}
        assert opposite & remedies(other), (sign.name, other)


def test_every_rule_has_source_reason_and_confidence(base: TuningBase) -> None:
    for rule in base.rules.rules.values():
        assert rule.source
        assert len(rule.because.split()) >= 4, rule.id


def test_known_and_doubted_look_at_findings_and_the_others_at_signs(base: TuningBase) -> None:
    for rule in base.rules.rules.values():
        for proposal in rule.proposals:
            late = proposal.turn in (Turn.KNOWN, Turn.DOUBTED)
            assert (rule.stage is Stage.CORRECTIONS) == late, rule.id
            kinds = {field.kind for field in rule.facts}
            assert late or "seen" in kinds, rule.id


def test_steps_grow_with_the_strength_of_the_sign(base: TuningBase) -> None:
    steps = [p for p in base.rules.parameters.values() if p.name.endswith("step")]
    assert steps
    for step in steps:
        assert isinstance(step.value, dict)
        sizes = [step.value[strength.value] for strength in Strength]
        assert 0 < sizes[0] <= sizes[1] <= sizes[2], step.name


def test_the_hash_covers_signs_and_moves(base: TuningBase) -> None:
    changed = documents()
    changed["signs"]["lumps"]["says"] = "Bumps."
    assert assemble(changed).hash != base.hash
    assert assemble(documents()).hash == base.hash


def _unknown_move(d: dict[str, Any]) -> None:
    d["line"]["rules"][0]["propose"] = {"first": "sideways"}


def _other_finding(d: dict[str, Any]) -> None:
    d["line"]["rules"][0]["finds"] = "faster"


def _unknown_turn(d: dict[str, Any]) -> None:
    d["line"]["rules"][0]["propose"] = {"sometimes": "another_line"}


def _unknown_look_alike(d: dict[str, Any]) -> None:
    d["signs"]["lumps"]["look_alike"]["sign"] = "bumps"


def _unknown_opposite(d: dict[str, Any]) -> None:
    d["moves"]["faster"]["opposite"] = "backwards"


def _one_sided_contradiction(d: dict[str, Any]) -> None:
    d["signs"]["lumps"]["contradicts"] = ["too_steep"]


def _unknown_contradiction(d: dict[str, Any]) -> None:
    d["signs"]["lumps"]["contradicts"] = ["bumps"]


@pytest.mark.parametrize(
    "slip",
    [
        _unknown_move, _other_finding, _unknown_turn, _unknown_look_alike, _unknown_opposite,
        _one_sided_contradiction, _unknown_contradiction,
    ],
)  # fmt: skip
def test_a_slip_is_refused(slip: Callable[[dict[str, Any]], None]) -> None:
    changed = copy.deepcopy(documents())
    slip(changed)
    with pytest.raises(RuleError):
        assemble(changed)
