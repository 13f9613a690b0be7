"""One request on its way to advice: what is aboard, and the reasoning so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rules.accounts import Account, settle
from rules.base import RuleBase
from rules.engine import evaluate
from rules.model import TARGET_UNITS, Firing, Severity, Stage, Target, Verdict
from service.advice import facts as tell
from service.advice.answer import Warned
from service.advice.crew import CrewRoles, CrewRules, crew_facts, say_roles, settle_roles
from service.advice.learned import Log
from service.advice.loading_condition import LoadingCondition
from service.advice.requests import AdviceRequest, Person
from service.advice.situation import FilledRider, Gaps, condition_of, fill_rider
from service.boats.model import Boat, Side

_VERDICTS = list(Verdict)
_SEVERITIES = list(Severity)


@dataclass(slots=True)
class Reasoning:
    """Facts as they become known, and what has fired so far."""

    base: RuleBase
    facts: dict[str, tell.Fact]
    fired: list[Firing] = field(default_factory=list)
    found: set[str] = field(default_factory=set)
    log: Log = field(default_factory=Log)
    _settled: dict[Target, Account | None] = field(default_factory=dict)

    def run(self, *stages: Stage) -> None:
        """Fire the rules of these stages on what is known now."""
        fired, self.found = evaluate(self.base, self.facts, stages, self.found)
        self.fired += fired
        changed = {change.target for firing in fired for change in firing.rule.changes}
        # What the log adds hangs on the facts, which may be others by now.
        stale = changed if self.log.learned is None else [*self._settled]
        for target in stale:
            self._settled.pop(target, None)

    def account(self, target: Target) -> Account | None:
        """The account by what has fired; one that is asked again is not added up again."""
        if target not in self._settled:
            further = self.log.lines(target, self.facts)
            account = settle(self.base, self.fired, target, TARGET_UNITS[target], further)
            self._settled[target] = account
        return self._settled[target]

    def number(self, target: Target) -> float:
        """The target's value so far; 0 where no rule has set it."""
        account = self.account(target)
        return 0.0 if account is None else float(account.value)


@dataclass(frozen=True, slots=True)
class Case:
    """The request without gaps. ``condition`` is seen in the surf frame, ``boat`` as it is.

    ``listed``: the request listed the people aboard, rather than giving a head count.
    """

    boat: Boat
    rider: FilledRider
    side: Side
    condition: LoadingCondition
    roles: CrewRoles
    gaps: Gaps
    reasoning: Reasoning
    listed: bool

    @property
    def density(self) -> float:
        return self.condition.density

    @property
    def base(self) -> RuleBase:
        return self.reasoning.base


def open_case(request: AdviceRequest, base: RuleBase) -> Case:
    """Gaps filled with stated defaults, the surf side chosen, the first facts told."""
    gaps = Gaps(base)
    rider = fill_rider(request.rider, gaps)
    rider_facts = tell.rider_facts(rider, request.surf_side)
    side = _surf_side(base, rider_facts)
    condition = condition_of(request, side, gaps)
    rules = CrewRules.of(base)
    roles = settle_roles(condition, rules)
    listed = is_listed(request.crew)
    say_roles(condition, roles, gaps, counted=not listed)
    facts = {
        "boat": tell.boat_facts(request.boat, side),
        "load": tell.load_facts(condition, rider.mass),
        "crew": crew_facts(condition, roles, rules),
        "rider": rider_facts,
        "water": tell.water_facts(condition.water),
    }
    reasoning = Reasoning(base, facts, log=Log(request.boat.learned, request.rider.id))
    return Case(request.boat, rider, side, condition, roles, gaps, reasoning, listed)


def is_listed(crew: Sequence[Person] | None) -> bool:
    """Whether a request says anything of single people; a head count says nothing."""
    return any(person != Person() for person in crew or ())


def _surf_side(base: RuleBase, rider_facts: tell.Fact) -> Side:
    """The side that the rules choose. They need the rider alone for it, and the rest needs it."""
    fired, _ = evaluate(base, {"rider": rider_facts}, [Stage.NEED])
    return next(Side(firing.rule.side) for firing in fired if firing.rule.side)


def verdict_of(fired: Sequence[Firing]) -> Verdict:
    """The gravest verdict of the rules that fired."""
    verdicts = [firing.rule.verdict for firing in fired if firing.rule.verdict is not None]
    return max(verdicts, key=_VERDICTS.index, default=Verdict.GO)


def cautions_of(fired: Sequence[Firing]) -> tuple[Warned, ...]:
    """The gravest first, then what this request called for before what always stands."""
    found = sorted(fired, key=lambda firing: not firing.rule.when)
    warned = [Warned(f.rule.id, caution) for f in found for caution in f.rule.cautions]
    return tuple(sorted(warned, key=lambda w: -_SEVERITIES.index(w.caution.severity)))
