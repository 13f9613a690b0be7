"""Wake responsibility: what the depth does to the wave, and the published figures side by side."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rules.base import RuleBase
from rules.model import Condition, Operator, Parameter, Verdict
from schemas import written
from schemas.units import Dimension, System
from service.advice.answer import Advice
from service.pages import texts as t
from service.pages.plots import Plot, decay
from service.running.waves import DEEP_BOUND

DEPTHS = ("depth.weak", "depth.good")
DISTANCES = ("shore.nearest", "shore.middle", "shore.furthest")


@dataclass(frozen=True, slots=True)
class Published:
    """One published figure, whether this run meets it, and what this outfit's rules do with it."""

    value: str
    says: str
    source: str
    policy: str
    met: str
    rules: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Wake:
    """The section, in words and tables."""

    froude: str
    meaning: str
    depth: str
    distance: str
    depths: tuple[Published, ...]
    distances: tuple[Published, ...]
    decay: Plot | None


def wake(advice: Advice, system: System) -> Wake:
    """The section for one advice."""
    base, wave = advice.base, advice.wave
    depth, shore = (_told(advice, name) for name in ("depth", "distance_to_shore"))
    marked = {
        written.quantity(base.number(name), "m", system): base.number(name) for name in DISTANCES
    }
    return Wake(
        froude=t.WAKE_FROUDE_UNKNOWN
        if depth is None
        else t.WAKE_FROUDE_NONE
        if wave.depth_froude is None
        else written.plain(wave.depth_froude, 2),
        meaning=""
        if wave.regime is None
        else t.WAKE_REGIMES[wave.regime.value].format(bound=written.plain(DEEP_BOUND, 1)),
        depth=_words(depth, system),
        distance=_words(shore, system),
        depths=tuple(_published(base, name, depth, system) for name in DEPTHS),
        distances=tuple(_published(base, name, shore, system) for name in DISTANCES),
        decay=decay(advice.setup.speed, marked, system, shore),
    )


def _told(advice: Advice, name: str) -> float | None:
    value = advice.facts["water"].get(name)
    return value if isinstance(value, float | int) else None


def _words(value: float | None, system: System) -> str:
    if value is None:
        return t.WAKE_NOT_TOLD
    return written.shown(value, Dimension.LENGTH, system, 1 if value < 20 else 0)


def _published(base: RuleBase, name: str, here: float | None, system: System) -> Published:
    parameter = base.parameters[name]
    value = parameter.number()
    met = t.WAKE_UNKNOWN if here is None else t.WAKE_MET if here >= value else t.WAKE_NOT_MET
    uses, rules = _policy(base, name)
    policy = t.WAKE_USES[uses]
    if parameter.local:
        policy = f"{policy} ({t.WAKE_LOCAL})"
    return Published(
        value=written.quantity(value, parameter.unit, system),
        says=parameter.says,
        source=parameter.source,
        policy=policy,
        met=met,
        rules=rules,
    )


def _policy(base: RuleBase, name: str) -> tuple[str, tuple[str, ...]]:
    """The gravest thing that a rule does because something is below this figure, and which do."""
    gravest, rules = "", []
    for rule in base.rules.values():
        if not any(below(condition, name) for condition in rule.when):
            continue
        rules.append(rule.id)
        if rule.verdict is not None and rule.verdict is not Verdict.GO:
            if gravest != Verdict.DO_NOT_GO.value:
                gravest = rule.verdict.value
        elif rule.cautions and not gravest:
            gravest = "caution"
    return gravest, tuple(rules)


def below(condition: object, name: str) -> bool:
    """Whether the condition holds below the parameter's value."""
    return (
        isinstance(condition, Condition)
        and condition.parameter == name
        and condition.operator in (Operator.BELOW, Operator.AT_MOST)
    )


def parameters(base: RuleBase) -> Iterator[Parameter]:
    """The published figures of the section."""
    for name in (*DEPTHS, *DISTANCES):
        yield base.parameters[name]
