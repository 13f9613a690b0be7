"""Reads the topic files into a checked, immutable rule base.

A topic file that says something the facts, parameters or stages do not know is refused with a
``RuleError`` naming the file and the rule, so that a slip shows when the service starts.
"""

from __future__ import annotations

import copy
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from rules.files import read_yaml
from rules.model import Field, Found, Parameter, Rule, Stage
from rules.reading import RuleError, read_fields, read_parameter, read_rule

VERSION = "1.0"
FOLDER = Path(__file__).parent

Documents = Mapping[str, Any]

_TOPIC_KEYS = {"title", "about", "parameters", "rules"}


@dataclass(frozen=True)
class Topic:
    """One topic file: what it is about, its parameters and its rules."""

    name: str
    title: str
    about: str
    parameters: tuple[Parameter, ...]
    rules: tuple[Rule, ...]


@dataclass(frozen=True)
class RuleBase:
    """All facts, parameters and rules, with a hash of their content."""

    fields: Mapping[str, Mapping[str, Field]]
    topics: tuple[Topic, ...]
    hash: str
    documents: Documents = field(repr=False)
    facts: Documents = field(repr=False)

    @cached_property
    def parameters(self) -> Mapping[str, Parameter]:
        return {p.name: p for topic in self.topics for p in topic.parameters}

    @cached_property
    def rules(self) -> Mapping[str, Rule]:
        """Rules by id, in the order in which they fire: by stage, then topic, then as written."""
        stages = list(Stage)
        every = [rule for topic in self.topics for rule in topic.rules]
        every.sort(key=lambda rule: stages.index(rule.stage))
        return {rule.id: rule for rule in every}

    def number(self, name: str) -> float:
        """The value of a plain parameter."""
        return self.parameters[name].number()

    def with_values(self, values: Mapping[str, object]) -> RuleBase:
        """The same rule base with local values for some parameters, which it marks as local.

        Raises ``RuleError`` for a name that is no parameter, a value of another form, or one that
        goes where the parameter's ``change`` does not let it: a safety line is only tightened.
        """
        documents = copy.deepcopy(dict(self.documents))
        for name, value in values.items():
            topic, _, short = name.partition(".")
            try:
                entry = documents[topic]["parameters"][short]
            except KeyError:
                raise RuleError(f"no such parameter: {name}") from None
            if type(read_parameter(name, entry | {"value": value}).value) is not type(
                self.parameters[name].value
            ):
                raise RuleError(f"{name}: a local value takes the form of the original")
            _check_direction(self.parameters[name], value)
            entry |= {"value": value, "source": "local value"}
        base = read(documents, self.facts)
        local = {*values, *(p.name for p in self.parameters.values() if p.local)}
        topics = tuple(
            replace(
                topic,
                parameters=tuple(replace(p, local=p.name in local) for p in topic.parameters),
            )
            for topic in base.topics
        )
        return replace(base, topics=topics)


def _check_direction(parameter: Parameter, value: object) -> None:
    """What ``change`` says: nobody, upwards or downwards only, or whatever the outfit likes."""
    if parameter.change.startswith("nobody"):
        raise RuleError(f"{parameter.name}: not for local change")
    if not isinstance(parameter.value, float) or not isinstance(value, int | float):
        return
    for word, loosened in (
        ("upwards", value < parameter.value),
        ("downwards", value > parameter.value),
    ):
        if parameter.change.endswith(word) and loosened:
            raise RuleError(
                f"{parameter.name}: {value:g} would loosen it; local values go {word} "
                f"from {parameter.value:g} only"
            )


def read(documents: Documents, facts: Documents) -> RuleBase:
    """A rule base from topic documents by name, and the document of facts.

    Raises ``RuleError`` naming topic and rule for anything that does not fit.
    """
    documents = dict(sorted(documents.items()))  # the order of rules follows the hash
    for name, document in documents.items():
        if set(document) - _TOPIC_KEYS or not {"title", "about"} <= set(document):
            raise RuleError(f"topic {name}: wants title and about, parameters and rules")
    fields = read_fields(facts)
    parameters = {
        name: read_parameter(name, raw)
        for topic, document in documents.items()
        for short, raw in (document.get("parameters") or {}).items()
        for name in [f"{topic}.{short}"]
    }
    findings = {
        raw["finds"]
        for document in documents.values()
        for raw in document.get("rules") or ()
        if "finds" in raw
    }
    topics = []
    for name, document in documents.items():
        rules = tuple(
            read_rule(name, raw, fields, parameters, findings)
            for raw in document.get("rules") or ()
        )
        own = tuple(p for full, p in parameters.items() if full.split(".")[0] == name)
        topics.append(Topic(name, document["title"], document["about"].strip(), own, rules))
    _check_rules([rule for topic in topics for rule in topic.rules])
    content = json.dumps([documents, facts], sort_keys=True)
    digest = hashlib.sha256(content.encode()).hexdigest()[:16]
    return RuleBase(fields, tuple(topics), digest, documents, facts)


def _check_rules(rules: list[Rule]) -> None:
    """Ids are unique; what a rule wants found is sought by its own stage, what it denies before it.

    So neither a rule of a stage that is over nor a ``not`` decided too early can go wrong.
    """
    stages = list(Stage)
    ids = [rule.id for rule in rules]
    if len(set(ids)) != len(ids):
        raise RuleError(f"two rules are called {next(i for i in ids if ids.count(i) > 1)}")
    for rule in rules:
        own = stages.index(rule.stage)
        for asked in (c for c in rule.when if isinstance(c, Found)):
            latest = max(stages.index(r.stage) for r in rules if r.finds == asked.finding)
            if latest > own:
                raise RuleError(f"{rule.id}: '{asked.text}' is sought in a later stage")
            if latest == own and not asked.wanted:
                raise RuleError(f"{rule.id}: '{asked.text}' wants it sought in an earlier stage")


@lru_cache(maxsize=1)
def load() -> RuleBase:
    """The rule base that ships with the service."""
    documents = {path.stem: read_yaml(path) for path in sorted(FOLDER.glob("*.yaml"))}
    return read(documents, documents.pop("facts"))
