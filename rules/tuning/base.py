"""Reads signs, moves and topics; the rules themselves are read and checked by ``rules.base``."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml

from rules.base import RuleBase, read
from rules.model import Rule
from rules.reading import RuleError

FOLDER = Path(__file__).parent
PREFIX = "tuning_"
"""Topics, and with them the ids of rules and parameters, are named ``tuning_<file>``."""

STRENGTHS = ("none", "slight", "clear", "strong")


@dataclass(frozen=True, slots=True)
class Sign:
    """Something seen: by whom it is noticed, what it is, and what it is taken for."""

    name: str
    about: str
    says: str
    look_alike: str
    tell: str
    gone: str


@dataclass(frozen=True, slots=True)
class Move:
    """One way of moving one lever. ``rank`` is its place in the order of attack."""

    name: str
    lever: str
    rank: int
    opposite: str
    do: str
    does: str
    look: str
    wrong_if: str
    under_way: str


@dataclass(frozen=True)
class TuningBase:
    """Signs, moves and the rules that lead from the ones to the others.

    ``hash`` covers all three.
    """

    rules: RuleBase
    signs: Mapping[str, Sign]
    moves: Mapping[str, Move]
    hash: str


@lru_cache(maxsize=1)
def load() -> TuningBase:
    """The tuning base that ships with the service. Raises ``RuleError`` for a slip in it."""
    documents = {
        path.stem: yaml.safe_load(path.read_text(encoding="utf-8"))
        for path in sorted(FOLDER.glob("*.yaml"))
    }
    return assemble(documents)


def assemble(documents: Mapping[str, Any]) -> TuningBase:
    """A tuning base from its documents by file name. Raises ``RuleError`` for a slip."""
    content = hashlib.sha256(json.dumps(documents, sort_keys=True).encode()).hexdigest()[:16]
    topics = dict(documents)
    signs, moves, facts = (
        _signs(topics.pop("signs")),
        _moves(topics.pop("moves")),
        topics.pop("facts"),
    )
    seen = {name: {"type": list(STRENGTHS), "says": sign.says} for name, sign in signs.items()}
    rules = read(
        {f"{PREFIX}{name}": document for name, document in topics.items()}, facts | {"seen": seen}
    )
    _check(rules.rules, moves)
    return TuningBase(rules, signs, moves, content)


def _signs(document: Mapping[str, Any]) -> dict[str, Sign]:
    signs = {
        name: Sign(
            name, raw["about"], raw["says"], raw["look_alike"]["sign"], raw["look_alike"]["tell"],
            raw["gone"],
        )
        for name, raw in document.items()
    }  # fmt: skip
    for sign in signs.values():
        if sign.about not in ("wave", "rider", "boat") or sign.look_alike not in signs:
            raise RuleError(f"sign {sign.name}: about or look-alike is not known")
    return signs


def _moves(document: Mapping[str, Any]) -> dict[str, Move]:
    moves = {
        name: Move(
            name, raw["lever"], raw["rank"], raw.get("opposite", ""), raw.get("do", ""),
            raw["does"], raw["look"], raw["wrong_if"], raw.get("under_way", ""),
        )
        for name, raw in document.items()
    }  # fmt: skip
    for move in moves.values():
        if move.opposite and move.opposite not in moves:
            raise RuleError(f"move {move.name}: no move {move.opposite}")
    return moves


def _check(rules: Mapping[str, Rule], moves: Mapping[str, Move]) -> None:
    """What a rule proposes is a move, and is found under the move's own name."""
    for rule in rules.values():
        for proposal in rule.proposals:
            if proposal.move not in moves:
                raise RuleError(f"{rule.id}: no move {proposal.move}")
            if rule.finds and rule.finds != proposal.move:
                raise RuleError(f"{rule.id}: finds {rule.finds}, proposes {proposal.move}")
