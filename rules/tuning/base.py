"""Reads signs, moves and topics; the rules themselves are read and checked by ``rules.base``."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from rules.base import RuleBase, read
from rules.files import read_yaml
from rules.model import Confidence, Rule
from rules.reading import RuleError

FOLDER = Path(__file__).parent
PREFIX = "tuning_"
"""Topics, and with them the ids of rules and parameters, are named ``tuning_<file>``."""

STRENGTHS = ("none", "slight", "clear", "strong")

PROPERTIES = ("height", "length", "steepness", "push", "cleanness")
"""Of a wave: what levers move and signs are read from."""


@dataclass(frozen=True, slots=True)
class Sign:
    """Something seen: by whom it is noticed, what it is, and what it is taken for.

    ``contradicts``: signs that cannot be so together with it. ``shows``: properties or levers, and
    how much of each; seen from ``begins`` units on. While one that ``hides`` is seen, nothing can
    be said of the rest.
    """

    name: str
    about: str
    says: str
    look_alike: str
    tell: str
    gone: str
    contradicts: tuple[str, ...]
    shows: Mapping[str, float]
    begins: float
    hides: bool


@dataclass(frozen=True, slots=True)
class Lever:
    """A lever with a number: its plainly visible ``unit`` (in ``of``) and what one unit more does.

    ``title`` says what more of it is. ``advice``: how many units the advised setting may be from
    the best one.
    """

    name: str
    title: str
    unit: float
    of: str
    advice: float
    does: Mapping[str, float]
    source: str
    confidence: Confidence


@dataclass(frozen=True, slots=True)
class Move:
    """One way of moving one lever. ``rank`` is its place in the order of attack.

    ``at_once``: made without a second look at what is seen.
    """

    name: str
    lever: str
    rank: int
    opposite: str
    do: str
    does: str
    look: str
    once: str
    wrong_if: str
    at_once: bool
    under_way: str


@dataclass(frozen=True)
class TuningBase:
    """Signs, moves, levers and the rules that lead from what is seen to what is moved.

    ``hash`` covers all of them.
    """

    rules: RuleBase
    signs: Mapping[str, Sign]
    moves: Mapping[str, Move]
    levers: Mapping[str, Lever]
    hash: str


@lru_cache(maxsize=1)
def load() -> TuningBase:
    """The tuning base that ships with the service. Raises ``RuleError`` for a slip in it."""
    documents = {path.stem: read_yaml(path) for path in sorted(FOLDER.glob("*.yaml"))}
    return assemble(documents)


def assemble(documents: Mapping[str, Any]) -> TuningBase:
    """A tuning base from its documents by file name. Raises ``RuleError`` for a slip."""
    content = hashlib.sha256(json.dumps(documents, sort_keys=True).encode()).hexdigest()[:16]
    topics = dict(documents)
    moves, facts = _moves(topics.pop("moves")), topics.pop("facts")
    levers = _levers(topics.pop("levers"), moves)
    signs = _signs(topics.pop("signs"), levers)
    seen = {name: {"type": list(STRENGTHS), "says": sign.says} for name, sign in signs.items()}
    rules = read(
        {f"{PREFIX}{name}": document for name, document in topics.items()}, facts | {"seen": seen}
    )
    _check(rules.rules, moves)
    return TuningBase(rules, signs, moves, levers, content)


def _levers(document: Mapping[str, Any], moves: Mapping[str, Move]) -> dict[str, Lever]:
    known = {move.lever for move in moves.values()}
    levers = {
        name: Lever(
            name, raw["title"], float(raw["unit"]), raw["of"], float(raw["advice"]), raw["does"],
            raw["source"], Confidence(raw["confidence"]),
        )
        for name, raw in document.items()
    }  # fmt: skip
    for lever in levers.values():
        if lever.name not in known or lever.unit <= 0 or set(lever.does) - set(PROPERTIES):
            raise RuleError(f"lever {lever.name}: no such lever, unit or property")
    return levers


def _signs(document: Mapping[str, Any], levers: Mapping[str, Lever]) -> dict[str, Sign]:
    signs = {
        name: Sign(
            name, raw["about"], raw["says"], raw["look_alike"]["sign"], raw["look_alike"]["tell"],
            raw["gone"], tuple(raw.get("contradicts", ())), raw.get("shows", {}),
            float(raw.get("from", 0.0)), raw.get("hides", False),
        )
        for name, raw in document.items()
    }  # fmt: skip
    for sign in signs.values():
        if sign.about not in ("wave", "rider", "boat") or sign.look_alike not in signs:
            raise RuleError(f"sign {sign.name}: about or look-alike is not known")
        if set(sign.shows) - {*PROPERTIES, *levers}:
            raise RuleError(f"sign {sign.name}: shows what is neither a property nor a lever")
        if not all(o in signs and sign.name in signs[o].contradicts for o in sign.contradicts):
            raise RuleError(f"sign {sign.name}: what it contradicts does not contradict it")
    return signs


def _moves(document: Mapping[str, Any]) -> dict[str, Move]:
    moves = {
        name: Move(
            name, raw["lever"], raw["rank"], raw.get("opposite", ""), raw.get("do", ""),
            raw["does"], raw["look"], raw.get("once", ""), raw["wrong_if"],
            raw.get("at_once", False), raw.get("under_way", ""),
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
