"""Which move next: the rules' votes weighed, the order of attack, and what speaks against it.

A move's score is the strength of the signs that ask for it times its turn in the table, less what
asks for its opposite. Where what is seen is something that the table of levers speaks of, a move of
those levers is worth what all looks of the session together say that it takes away, instead. Among
moves that score nearly as well as the best the one earlier in the order of attack goes first.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import TypeVar

from rules.model import Condition, Firing, Turn
from rules.tuning import Move, TuningBase
from rules.tuning.base import STRENGTHS
from service.advice.loading_condition import Attitude
from service.advice.tuning.answer import Change, PassedOver
from service.advice.tuning.experience import Experience
from service.advice.tuning.history import (
    HALF_WAY_BACK,
    LOOK,
    half_way_back,
    last_change,
    put_back,
    reversals,
)
from service.advice.tuning.limits import leaves_a_limit
from service.advice.tuning.moves import Aim, realise
from service.advice.tuning.requests import Did, PastChange
from service.advice.tuning.run import Run
from service.advice.tuning.state import earlier
from service.advice.tuning.worth import weigh

T = TypeVar("T")

AT_ITS_END = "its lever is not fitted or at its end"
MOST_TRIED = 8
"""Options of one move that are worked out in full before it is passed over."""


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
    experience: Experience | None
    passed_over: list[PassedOver] = field(default_factory=list)

    def next(self, found: set[str], count: int) -> list[Change]:
        """At most ``count`` changes of different levers, the one to do first."""
        first = list(self._back(found))
        levers = {name for change in first for name in self._levers(change)}
        return [*first, *self.proposals(count - len(first), levers)]

    def _back(self, found: set[str]) -> Iterator[Change]:
        """Whatever of the last change has to be put back."""
        number = last_change(self.history)
        if number is None or not found & {"undo", HALF_WAY_BACK}:
            return
        last = self.history[number]
        how, times = (put_back, 1) if "undo" in found else (half_way_back, 0)
        if how is half_way_back and not self._asks_back(last):
            return
        change = how(self.run, self.tuning, last)
        if change is None:
            return
        change = self._further_back(change)
        met = self._met()[change.state.key]
        why = leaves_a_limit(self.run, self.attitude, change)
        if met <= times and not why:
            yield change
        else:
            self._pass(change.move, why or "that state has been tried in this session")

    def _further_back(self, change: Change) -> Change:
        """The same, or further the same way where that is what all looks say is best now."""
        experience = self.experience
        known = experience is not None and experience.speaks and experience.borne_out
        if experience is None or not known or not isinstance(change.goal, float):
            return change
        best = next(self._weighed(experience), None)
        if best is None or best.lever != change.lever or not isinstance(best.goal, float):
            return change
        origin = float(change.origin or 0.0)
        back, on = change.goal - origin, best.goal - origin
        return best if on * back > 0 and abs(on) >= abs(back) else change

    def remedy(self) -> list[Change]:
        """After a stop: people to another seat, if that is asked for; nothing else is tuned."""
        votes = scores(self.fired, self.tuning, self.history)
        return [c for c in self._voted(votes) if c.quantity == "seat"][:1]

    def _asks_back(self, last: PastChange) -> bool:
        """Whether what is seen now asks for the opposite of the last change, if that is known."""
        move = self.tuning.moves.get(last.move or "")
        if move is None or not move.opposite:
            return True
        wanted = {p.move for firing in self.fired for p in firing.rule.proposals}
        return move.opposite in wanted

    def proposals(self, count: int, levers: set[str] | None = None) -> Iterator[Change]:
        """At most ``count`` changes of levers other than ``levers``."""
        taken = set(levers or ())
        votes = scores(self.fired, self.tuning, self.history)
        experience = self.experience
        weighed: Iterator[Change] = iter(())
        if experience and experience.speaks and votes:
            first = self._first({score: score.points for score in votes}, lambda score: score.move)
            if first.move.lever in self.tuning.levers:
                weighed = self._weighed(experience)
        for change in chain(weighed, self._voted(votes)):
            if count <= 0:
                return
            if not self._levers(change) & taken:
                taken |= self._levers(change)
                count -= 1
                yield change

    def _first(self, worth: Mapping[T, float], move: Callable[[T], Move]) -> T:
        """The earliest in the order of attack of all that are worth nearly as much as the best."""
        share = self.tuning.rules.number("tuning_session.worth_trying")
        best = max(worth.values())
        ready = [each for each, points in worth.items() if points >= share * best]
        return min(ready, key=lambda each: (move(each).rank, -worth[each]))

    def _voted(self, votes: Sequence[Score]) -> Iterator[Change]:
        """Changes by what the rules' turns say."""
        met, waiting = self._met(), {score: score.points for score in votes}
        while waiting:
            score = self._first(waiting, lambda score: score.move)
            del waiting[score]
            change = realise(self.run, self.tuning, self._aim(score), self.attitude)
            if change is None:
                self._pass(score.move, AT_ITS_END)
            elif why := self._against(change, met):
                self._pass(score.move, why)
            else:
                yield change

    def _weighed(self, experience: Experience) -> Iterator[Change]:
        """Changes by what all looks say: of each move that a rule asks for, the best one."""
        met = self._met()
        changes: list[Change] = []
        worth: dict[int, float] = {}
        asked = self._asked()
        for move, each in weigh(self.run, self.tuning, self.attitude, asked, experience):
            if each is None:
                self._pass(move, AT_ITS_END)
                continue
            for value, make in each[:MOST_TRIED]:
                change = make()
                why = self._against(change, met)
                if not why:
                    worth[len(changes)] = value
                    changes.append(change)
                    break
                self._pass(change.move, why)
        while worth:
            number = self._first(worth, lambda number: changes[number].move)
            del worth[number]
            yield changes[number]

    def _asked(self) -> list[tuple[Aim, Turn]]:
        """Moves of levers of the table that a rule asks for, with their best turn."""
        settings = 1 + sum(
            past.origin is not None and past.did is not Did.REVERSED for past in self.history
        )
        turns: dict[str, Turn] = {}
        strengths: dict[str, str] = {}
        rising = list(Turn)
        for firing in self.fired:
            for proposal in firing.rule.proposals:
                name, turn, strength = proposal.move, proposal.turn, "none"
                if turn in (Turn.KNOWN, Turn.DOUBTED):
                    continue
                if self.tuning.moves[name].lever not in self.tuning.levers:
                    continue
                strength = max(strengths.get(name, "none"), _strength(firing), key=STRENGTHS.index)
                turns[name] = min(turns.get(name, turn), turn, key=rising.index)
                strengths[name] = strength
        return [
            (Aim(move, strengths[name], False, 0.5 ** self._times(move), settings), turns[name])
            for name, move in self.tuning.moves.items()
            if name in turns
        ]

    def _aim(self, score: Score) -> Aim:
        times = self._times(score.move)
        # To the advised value only where much is amiss: a slight sign asks for one step.
        jump = score.known and not times and score.strength != "slight"
        return Aim(score.move, score.strength, jump, 0.5**times)

    def _times(self, move: Move) -> int:
        """How often this move or its opposite went past the mark."""
        lever = {
            "centre_plate": "plates.centre",
            "off_side_plate": f"plates.{self.run.side.other}",
        }.get(move.lever, move.lever)
        return reversals(self.history, lever, (move.name, move.opposite or "-"))

    def _levers(self, change: Change) -> set[str]:
        """What the change moves: people and water to one side are one lever, and so on."""
        return {change.lever, change.move.lever} - {"last"}

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
        changes = [past for past in self.history if past.lever != LOOK]
        states = earlier(run.state, changes, run.condition.boat, run.side)
        return Counter(state.key for state in [*states, run.state])

    def _pass(self, move: Move, why: str) -> None:
        past = PassedOver(move.name, why)
        if past not in self.passed_over:
            self.passed_over.append(past)
