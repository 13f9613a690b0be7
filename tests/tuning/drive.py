"""Drives the tuning from bad set-ups on the simulated wave, as a driver with a coach would.

A session: look, ask the tuning, look again where it says so, do the one change, look for half a
minute, judge what it did, ask again. It ends when nothing amiss is seen three times running, or
after ``MOST_CHANGES``. ``python -m tests.tuning.drive 500`` prints the figures.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, Protocol

from flask.testing import FlaskClient

from rules import RuleBase, load
from rules.tuning import load as load_tuning
from schemas.fleet import demo_fleet
from service.advice.advise import advise
from service.advice.answer import Advice
from service.advice.requests import AdviceRequest
from service.advice.tuning.requests import (
    Did,
    PastChange,
    PlatesSet,
    Seen,
    Settings,
    Strength,
    TuningRequest,
)
from service.advice.tuning.tune import tune
from service.boats.model import Side
from tests.tuning.simulated_wave import (
    OWN_KIND,
    ROLLERS,
    SPOILED,
    State,
    Wave,
    crew,
    setups,
    water,
    within_lines,
)

CHANGES = 8
"""A wave should be clean within so many."""
MOST_CHANGES = 12
MOST_LOOKS = 40
GOOD_LOOKS = 3


@dataclass(frozen=True)
class Step:
    """What the tuning says, in its own terms: km/h, percent, metres, seats."""

    action: str
    move: str = ""
    lever: str = ""
    origin: float | str | None = None
    goal: float | str | None = None
    persons: tuple[int, ...] = ()
    tanks: tuple[tuple[str, float, float], ...] = ()
    look_again: bool = False


class Coach(Protocol):
    """Whatever answers a tuning request: the use case, or the endpoint."""

    def __call__(self, asked: TuningRequest, /) -> Step: ...


@dataclass
class Session:
    """What became of one session."""

    ended: str
    off: int = 0
    """Levers that were more than a unit from their best when it began."""
    changes: int = 0
    clean_at: int | None = None
    """Changes after which the wave was first truly clean."""
    clean: bool = False
    """Truly clean when it ended."""
    inside: bool = True
    moved: int = 0
    """People who were asked to change seats."""
    stayed: bool = True
    """Driver and observer kept their seats."""
    most_alike: int = 1
    steps: list[str] = field(default_factory=list)

    @property
    def good(self) -> bool:
        """Left alone by the driver, truly clean, after at most ``CHANGES``."""
        return self.ended == "left" and self.clean and self.changes <= CHANGES


def drive(wave: Wave, state: State, coach: Coach) -> Session:
    """One session from ``state``."""
    off = sum(abs(units) > 1.0 for units in wave.off_best(state).values())
    session = Session("gave up", off)
    met = Counter({state.settings: 1})
    history: list[PastChange] = []
    good = 0
    for _ in range(MOST_LOOKS):
        if session.clean_at is None and wave.clean(state):
            session.clean_at = session.changes
        if session.changes >= MOST_CHANGES:
            break
        state = replace(state, rollers=wave.chance.random() < ROLLERS)
        report = wave.look(state)
        step = coach(request(wave, state, wave.loosely(report), history))
        if step.action == "ask":
            step = coach(request(wave, state, report, history))
        session.steps.append(f"{report} -> {step}")
        if not step.lever:  # to leave it, or a stop after which the crew looks again
            good = good + 1 if not report else 0
            if good == GOOD_LOOKS:
                session.ended = "left"
                break
        else:
            good = 0
        if not step.lever or step.look_again:
            history.append(_looked(report))
            continue
        before, state = state, done(wave, state, step)
        session.changes += 1
        session.inside &= within_lines(wave, state)
        session.moved += len(step.persons)
        session.stayed &= state.seats[:2] == before.seats[:2]
        if state.settings != before.settings:
            met[state.settings] += 1
        history.append(_past(step, wave.judge(before, state), report))
    session.clean = wave.clean(state)
    session.most_alike = max(met.values())
    return session


def request(
    wave: Wave, state: State, report: list[tuple[str, str]], history: list[PastChange]
) -> TuningRequest:
    """What the driver tells: everything that is set, and what is seen."""
    plates = {wave.side.other: state.off / 100, wave.side: state.surf / 100}
    return TuningRequest(
        boat=wave.boat,
        rider=wave.rider,
        crew=crew(wave, state),
        water=water(state),
        fuel=0.5,
        settings=Settings(
            wave.side,
            state.speed / 3.6,
            PlatesSet(state.centre / 100, plates[Side.PORT], plates[Side.STARBOARD]),
            {tank: fill / 100 for tank, fill in state.fills},
        ),
        seen=_seen(report),
        history=tuple(history),
    )


def _looked(report: list[tuple[str, str]]) -> PastChange:
    """A look after which nothing was changed."""
    return PastChange("look", None, None, Did.SAME, seen=_seen(report))


def _seen(report: Iterable[tuple[str, str]]) -> tuple[Seen, ...]:
    return tuple(Seen(sign, Strength(strength)) for sign, strength in report)


def done(wave: Wave, state: State, step: Step) -> State:
    """The state once the change is made."""
    kind, _, name = step.lever.partition(".")
    if kind == "people":
        return replace(state, seats=_moved(state, step))
    if kind == "tanks":
        goals = {tank: after for tank, _, after in step.tanks} or {name: float(step.goal or 0)}
        return replace(state, fills=tuple((t, goals.get(t, f)) for t, f in state.fills))
    if kind == "depth":
        return replace(state, depth=round(wave.chance.uniform(6.1, 10.0), 1))
    if kind == "stance":
        return replace(state, feet_right=state.feet_right or step.move == "front_foot")
    return _set(wave, state, step) if isinstance(step.goal, float) else state


def _set(wave: Wave, state: State, step: Step) -> State:
    """Speed or a plate."""
    kind, _, name = step.lever.partition(".")
    if not isinstance(step.goal, float):
        raise TypeError(step.lever)
    if kind == "speed":
        return replace(state, speed=step.goal)
    if name == "centre":
        return replace(state, centre=step.goal)
    if name == wave.side:
        return replace(state, surf=step.goal)
    return replace(state, off=step.goal)


def _moved(state: State, step: Step) -> tuple[str, ...]:
    """Those go who are named."""
    seats = enumerate(state.seats, 1)
    return tuple(str(step.goal) if number in step.persons else seat for number, seat in seats)


def _past(step: Step, did: str, report: list[tuple[str, str]]) -> PastChange:
    scale = {"speed": 1 / 3.6, "depth": 1.0}.get(step.lever, 0.01)

    def inside(value: float | str | None) -> float | str | None:
        return value * scale if isinstance(value, float) else value

    return PastChange(
        step.lever, inside(step.origin), inside(step.goal), Did(did), max(len(step.persons), 1),
        step.move, {tank: before / 100 for tank, before, _ in step.tanks}, _seen(report),
        step.persons,
    )  # fmt: skip


def use_case() -> Coach:
    """The use case itself. Advice for one and the same request is worked out once."""
    base, tuning = load(), load_tuning()

    @lru_cache(maxsize=4)
    def known(key: str) -> list[Advice]:
        return []

    def advised(asked: AdviceRequest, rules: RuleBase) -> Advice:
        found = known(repr((asked.crew, asked.ballast, asked.water, asked.rider, asked.boat.id)))
        if not found:
            found.append(advise(asked, rules))
        return found[0]

    def coach(asked: TuningRequest) -> Step:
        answer = tune(asked, base, tuning, advised)
        change = answer.change
        if change is None:
            return Step(answer.action.value)
        seats = zip(answer.state.people, change.state.people, strict=True)
        return Step(
            answer.action.value, change.move.name, change.lever, change.origin, change.goal,
            tuple(sorted(was.number for was, now in seats if was.seat != now.seat)),
            change.tanks, answer.look_again,
        )  # fmt: skip

    return coach


def figures(sessions: list[Session]) -> str:
    """What came of them, in seven lines."""
    count = len(sessions)
    ended = Counter(session.ended for session in sessions)
    changes = sorted(s.changes for s in sessions if s.good) or [0]
    reached = sum(s.clean_at is not None and s.clean_at <= CHANGES for s in sessions)
    good = sum(s.good for s in sessions)
    by_off = {
        off: [s.clean_at is not None and s.clean_at <= CHANGES for s in sessions if s.off == off]
        for off in sorted({s.off for s in sessions})
    }
    shares = ", ".join(f"{n}: {100 * sum(g) / len(g):.0f} % of {len(g)}" for n, g in by_off.items())
    return (
        f"{count} bad set-ups; ended: {dict(ended)}\n"
        f"truly clean at some moment within {CHANGES} changes: {100 * reached / count:.1f} %\n"
        f"the same by how many levers were plainly off at first: {shares}\n"
        f"left alone by the driver and truly clean within {CHANGES}: {100 * good / count:.1f} %\n"
        f"changes needed: median {changes[len(changes) // 2]}, most {changes[-1]}\n"
        f"people asked to move: {sum(s.moved for s in sessions)}; driver or observer among them in "
        f"{sum(not s.stayed for s in sessions)} sessions\n"
        f"ever outside limits: {sum(not s.inside for s in sessions)}; "
        f"most often in one state: {max(s.most_alike for s in sessions)}"
    )


def sessions(
    count: int,
    seed: int = 1,
    coach: Coach | None = None,
    anywhere: float = SPOILED,
    own_kind: float = 0.0,
) -> list[Session]:
    """Sessions from ``count`` random bad set-ups of the demo fleet."""
    asked, boats = coach or use_case(), list(demo_fleet())
    found = setups(boats, count, seed, anywhere, own_kind)
    return [drive(wave, state, asked) for wave, state in found]


def endpoint(client: FlaskClient) -> Coach:
    """The endpoint, asked in JSON and answering in JSON."""

    def coach(asked: TuningRequest, /) -> Step:
        answer: Any = client.post("/v1/tuning", json=body(asked)).get_json()
        change = answer["change"]
        if change is None:
            return Step(answer["action"])
        tanks = tuple((t["tank"], t["from"], t["to"]) for t in change["tanks"])
        return Step(
            answer["action"], change["move"], change["lever"], change["from"], change["to"],
            tuple(change["persons"] or ()), tanks, answer["look_again"],
        )  # fmt: skip

    return coach


def body(asked: TuningRequest) -> dict[str, Any]:
    """The request in JSON, metric."""
    settings, plates, rider = asked.settings, asked.settings.plates, asked.rider
    percent = {"centre": plates.centre, "port": plates.port, "starboard": plates.starboard}
    return {
        "boat": asked.boat.id,
        "crew": [{"mass": p.mass, "seat": p.seat} for p in asked.crew or ()],
        "rider": {"mass": rider.mass, "stance": rider.stance, "board": rider.board,
                  "level": rider.level},
        "water": {"kind": "fresh", "temperature": 20, "depth": asked.water.depth,
                  "distance_to_shore": 200},
        "fuel": 50,
        "settings": {
            "speed": round((settings.speed or 0.0) * 3.6, 4),
            "plates": {name: _hundred(value) for name, value in percent.items()},
            "tanks": {name: _hundred(fill) for name, fill in (settings.tanks or {}).items()},
        },
        "seen": _sent(asked.seen),
        "history": [_past_sent(past) for past in asked.history],
    }  # fmt: skip


def _past_sent(past: PastChange) -> dict[str, Any]:
    scale = {"speed": 3.6, "depth": 1.0}.get(past.lever, 100.0)
    ends = [round(v * scale, 4) if isinstance(v, float) else v for v in (past.origin, past.goal)]
    tanks = [
        {"tank": name, "from": _hundred(fill), "to": _hundred(fill)}
        for name, fill in past.tanks.items()
    ]
    return {
        "lever": past.lever, "move": past.move, "from": ends[0], "to": ends[1],
        "people": past.people, "persons": list(past.persons), "tanks": tanks,
        "did": past.did, "seen": _sent(past.seen),
    }  # fmt: skip


def _sent(signs: Iterable[Seen]) -> list[dict[str, str]]:
    return [{"sign": seen.sign, "strength": seen.strength.value} for seen in signs]


def _hundred(fraction: float | None) -> float:
    return round(100.0 * (fraction or 0.0), 4)


KINDS = (
    ("each lever off with chance 0.4", SPOILED, 0.0),
    ("every lever anywhere", 1.0, 0.0),
    ("each lever off with chance 0.4, boats of their own kind", SPOILED, OWN_KIND),
    ("every lever anywhere, boats of their own kind", 1.0, OWN_KIND),
)
"""What is driven: its name, the chance that a lever is anywhere, how differently boats answer."""


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    for name, share, kind in KINDS:
        found = sessions(wanted, seed, anywhere=share, own_kind=kind)
        print(f"{name}:\n{figures(found)}\n", flush=True)  # noqa: T201
