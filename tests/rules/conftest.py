"""The shipped rule base, generated facts, and rule bases of a few lines for single traps."""

from __future__ import annotations

import copy
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from rules import RuleBase, load
from rules.base import read
from tests.rules import oracle

ROOT = Path(__file__).parents[2]
CASES = int(os.environ.get("WAVESETUP_TEST_RULE_CASES", "2000"))
"""How many generated cases the engine is compared on; raise it for a long run."""

Change = Callable[[dict[str, Any]], object]


@pytest.fixture(scope="session")
def base() -> RuleBase:
    return load()


@pytest.fixture(scope="session")
def generated(base: RuleBase) -> list[oracle.Facts]:
    """Facts of which now and then a whole kind is missing."""
    return [oracle.facts(base.documents, base.facts, seed) for seed in range(CASES)]


@pytest.fixture(scope="session")
def evaluated(
    base: RuleBase, generated: list[oracle.Facts]
) -> list[tuple[list[oracle.Fired], set[str]]]:
    """What the oracle makes of each generated case."""
    return [oracle.evaluate(base.documents, facts) for facts in generated]


def small(*rules: dict[str, Any], **parameters: Any) -> RuleBase:
    """A rule base of one topic, ``topic``, over the shipped facts."""
    return read({"topic": topic(*rules, **parameters)}, load().facts)


def topic(*rules: dict[str, Any], **parameters: Any) -> dict[str, Any]:
    """A topic document; each rule gets whatever it leaves out, each parameter its particulars."""
    particulars = {
        "says": "a number", "unit": "kg", "source": "common practice", "confidence": "common",
        "change": "the coach",
    }  # fmt: skip
    return {
        "title": "Topic",
        "about": "What it is about.",
        "parameters": {name: particulars | {"value": v} for name, v in parameters.items()},
        "rules": [rule(f"r{number}") | given for number, given in enumerate(rules)],
    }


def rule(rule_id: str) -> dict[str, Any]:
    return {
        "id": rule_id, "title": f"Title of {rule_id}", "stage": "need", "when": [],
        "because": "It is so.", "source": "common practice", "confidence": "common",
    }  # fmt: skip


def shipped(change: Change) -> RuleBase:
    """The shipped rule base with its documents changed in place by ``change``."""
    documents = copy.deepcopy(dict(load().documents))
    change(documents)
    return read(documents, load().facts)


def yaml_facts(text: str) -> dict[str, Any]:
    document: dict[str, Any] = yaml.safe_load(text)
    return document
