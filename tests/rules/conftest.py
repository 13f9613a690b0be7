"""The shipped rule base, generated facts, and rule bases of a few lines for single traps."""

from __future__ import annotations

import copy
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
import yaml
from flask.testing import FlaskClient

from rules import RuleBase, load
from rules.base import read
from service import create_app
from service.storage.tables import BoatVersion
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


@contextmanager
def client_of(case: Mapping[str, Any], folder: Path) -> Iterator[FlaskClient]:
    """A client for one case, over the outfit's own values and a boat kept as it once was.

    ``kept`` takes the place of ``demo-7m`` in a store of the case's own, unchecked.
    """
    own = folder / "own.yaml"
    own.write_text(yaml.safe_dump({"fleet": case.get("outfit", {})}))
    config = {"TESTING": True, "LOCAL_RULES": str(own)}
    if "kept" not in case:
        yield create_app(config).test_client()
        return
    app = create_app(config | {"DATABASE_URL": f"sqlite:///{folder / 'store.sqlite'}"})
    with app.extensions["store"].writing() as session:
        of_the_demo = sa.select(BoatVersion).where(BoatVersion.boat_id == "demo-7m")
        session.scalars(of_the_demo).one().document = dict(case["kept"])
    yield app.test_client()
    app.extensions["store"].close()


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
