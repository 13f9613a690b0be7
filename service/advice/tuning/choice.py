"""Which move next: the rules' votes weighed, the order of attack, and what speaks against it.

A move's score is the strength of the signs that ask for it times its turn in the table, less what
asks for its opposite. Among moves that score nearly as well as the best the one earlier in the
order of attack goes first.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from rules.model import Condition, Firing, Turn
from rules.tuning import Move, TuningBase
from service.advice.tuning.answer import Change, PassedOver
from service.advice.tuning.history import HALF_WAY_BACK, half_way_back, put_back, reversals
from service.advice.tuning.limits import leaves_a_limit
from service.advice.tuning.moves import Aim, realise
from service.advice.tuning.requests import Did, PastChange
from service.advice.tuning.run import Run
from service.advice.tuning.state import earlier
from service.advice.weighing import Attitude


@dataclass(frozen=True, slots=True)
class Score:
    """A move, what it scores, the strongest sign that asks for it; ``known``: out of place."""

    move: Move
    points: float
    strength: str
    known: bool


def scores(
    fired: Sequence[Firing], tuning: TuningBase, history: Sequence[PastChange]
) -> list[Score]:
    """Every move that is asked for more than its opposite is, in the order of ``moves.yaml``."""
    turns, strengths = (
        tuning.rules.parameters[f"tuning_session.{name}"].value
        for name in ("turn_weight", "strength_weight")
    )
    if not (isinstance(turns, Mapping) and isinstance(strengths, Mapping)):
        raise TypeError("turn_weight and strength_weight are tables")
    number = tuning.rules.number
    experience = {
        Did.SAME: number("tuning_session.did_nothing"),
        Did.WORSE: number("tuning_session.did_nothing"),
    }
    votes: defaultdict[str, float] = defaultdict(float)
    factors: dict[str, float] = {}
    strongest: dict[str, str] = {}
    for firing in fired:
        for proposal in firing.rule.proposals:
            name, weight = proposal.move, turns[proposal.turn]
            if proposal.turn in (Turn.KNOWN, Turn.DOUBTED):
                factors[name] = factors.get(name, 1.0) * weight
                continue
            strength = _strength(firing)
            votes[name] += strengths[strength] * weight
            if strengths[strength] > strengths[strongest.get(name, "none")]:
                strongest[name] = strength
    last = {past.move: past.did for past in history if past.move}
    out_of_place = {name for name, factor in factors.items() if factor > 1.0}
    for name, did in last.items():
        factors[name] = factors.get(name, 1.0) * experience.get(did, 1.0)
        opposite = tuning.moves[name].opposite if name in tuning.moves else ""
        if did is Did.BETTER and opposite:
            factors[opposite] = factors.get(opposite, 1.0) * number("tuning_session.takes_back")
    return [
        Score(move, points, strongest[name], name in out_of_place)
        for name, move in tuning.moves.items()
        if name in votes
        for points in [(votes[name] - votes.get(move.opposite, 0.0)) * factors.get(name, 1.0)]
        if points > 0
    ]


def _strength(firing: Firing) -> str:
    """How strongly the sign that the rule asks for is seen."""
    return next(
        str(firing.bound[condition.field.path])
        for condition in firing.rule.when
        if isinstance(condition, Condition) and condition.field.kind == "seen"
    )


@dataclass(slots=True)
class Choice:
    """What could be done next, and what was passed over on the way to it."""

    run: Run
    tuning: TuningBase
    attitude: Attitude
    history: Sequence[PastChange]
    fired: Sequence[Firing]
    passed_over: list[PassedOver] = field(default_factory=list)

    def next(self, found: set[str], count: int) -> list[Change]:
        """At most ``count`` changes of different levers, the one to do first."""
        first = list(self._back(found))
        levers = {self._lever(change) for change in first}
        return [*first, *self.proposals(count - len(first), levers)]

    def _back(self, found: set[str]) -> Iterator[Change]:
        """Whatever of the last change has to be put back."""
        if not self.history or not found & {"undo", HALF_WAY_BACK}:
            return
        last = self.history[-1]
        how, times = (put_back, 1) if "undo" in found else (half_way_back, 0)
        if how is half_way_back and not self._asks_back(last):
            return
        change = how(self.run, self.tuning, last)
        if change is None:
            return
        met = self._met()[change.state.key]
        why = leaves_a_limit(self.run, self.attitude, change)
        if met <= times and not why:
            yield change
        else:
            self._pass(change.move, why or "that state has been tried in this session")

    def remedy(self) -> list[Change]:
        """After a stop: people to another seat, if that is asked for; nothing else is tuned."""
        wanted = self.proposals(len(self.tuning.moves))
        return [change for change in wanted if change.quantity == "seat"][:1]

    def _asks_back(self, last: PastChange) -> bool:
        """Whether what is seen now asks for the opposite of the last change, if that is known."""
        move = self.tuning.moves.get(last.move or "")
        if move is None or not move.opposite:
            return True
        wanted = {p.move for firing in self.fired for p in firing.rule.proposals}
        return move.opposite in wanted

    def proposals(self, count: int, levers: set[str] | None = None) -> Iterator[Change]:
        """At most ``count`` changes of levers other than ``levers``."""
        met, taken = self._met(), set(levers or ())
        share = self.tuning.rules.number("tuning_session.worth_trying")
        waiting = scores(self.fired, self.tuning, self.history)
        while waiting and count > 0:
            best = max(score.points for score in waiting)
            ready = [score for score in waiting if score.points >= share * best]
            score = min(ready, key=lambda s: (s.move.rank, -s.points))
            waiting.remove(score)
            change = realise(self.run, self.tuning, self._aim(score), self.attitude)
            if change is None:
                self._pass(score.move, "its lever is not fitted or at its end")
            elif self._lever(change) in taken:
                continue
            elif why := self._against(change, met):
                self._pass(score.move, why)
            else:
                taken.add(self._lever(change))
                count -= 1
                yield change

    def _aim(self, score: Score) -> Aim:
        lever = {
            "centre_plate": "plates.centre",
            "off_side_plate": f"plates.{self.run.side.other}",
        }.get(score.move.lever, score.move.lever)
        times = reversals(self.history, lever, (score.move.name, score.move.opposite or "-"))
        # To the advised value only where much is amiss: a slight sign asks for one step.
        jump = score.known and not times and score.strength != "slight"
        return Aim(score.move, score.strength, jump, 0.5**times)

    def _lever(self, change: Change) -> str:
        """What the change moves: people and water to one side are one lever, and so on."""
        return change.lever if change.move.lever == "last" else change.move.lever

    def _against(self, change: Change, met: Counter[tuple[object, ...]]) -> str:
        if not change.quantity:
            since = self.history if change.lever != "line" else self.history[-1:]
            tried = any(past.lever == change.lever for past in since)
            return "it has been tried in this session" if tried else ""
        if met[change.state.key]:
            return "that state has been tried in this session"
        return leaves_a_limit(self.run, self.attitude, change)

    def _met(self) -> Counter[tuple[object, ...]]:
        run = self.run
        states = earlier(run.state, self.history, run.cargo.boat, run.side)
        return Counter(state.key for state in [*states, run.state])

    def _pass(self, move: Move, why: str) -> None:
        self.passed_over.append(PassedOver(move.name, why))
