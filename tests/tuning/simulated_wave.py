"""A simulated wave to try the tuning on: a test model, not a prediction of any boat.

What it is built from, before any rule of the tuning was written:

* The *direction* in which each lever moves each property of the wave is the common-practice table
  of levers: speed, centre plate, off-side plate, lean, fore-and-aft balance, total weight, depth
  against height, length, steepness, push, cleanness. ``+`` is 1, ``slight`` or ``weak`` a half.
* One *unit* of a lever is what common practice holds to be plainly visible behind the boat:
  0.6 km/h (two steps), 15 % of a plate (what "from 65 to 80" is worth), 2 degrees of lean, 1 degree
  of trim, 300 kg of water (one tank or bag is 160 to 500 kg), 0.1 of depth Froude number beyond
  0.65.
* Each boat, crew and rider has its *own* best speed, plates, lean, trim and water, with a scatter
  that no rule can know. Light riders slower, heavy hulls and riders faster, a large crew more
  off-side plate, beginners and light riders more centre plate: common practice again.
* A sign's strength is a smooth function (softplus) of those properties. It shows as slight from
  0.75, clear from 1.5, strong from 3: so one step off is not seen, two or three are.
* A wave has a face only in the usable window: outside it (plate far short, speed far off, shallow,
  the surf-side plate down) nothing but "no face" or "the wrong side" can be seen.
* Waves vary: Gaussian noise of a quarter on every property at every look. People report the two
  strongest signs. One report in ten is wrong: nothing where there is something, or another sign at
  any strength. One judgement in ten of what a change did is wrong as well. Now and then the boat
  crosses its own rollers, and now and then someone says "washed out" for either of two faults.

The tuning weighs what is seen against the same common-practice table of levers, read the same way
(``rules/tuning/levers.yaml``: plain is 1, slight a half, one unit what is plainly visible). So this
model alone would flatter it. Waves of their *own kind* answer as no table says: every effect of
every lever is as much stronger or weaker as chance will have it, by half as a rule. Both figures
are printed.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from rules import load
from service.advice.crew import CrewRules, bow_limits
from service.advice.loading_condition import Attitude, LoadingCondition
from service.advice.requests import (
    AdviceRequest,
    Board,
    Level,
    Person,
    Rider,
    Stance,
    Water,
    WaterKind,
)
from service.advice.situation import Gaps, condition_of
from service.boats.model import Boat, SeatRole, Side

SLIGHT, CLEAR, STRONG = 0.75, 1.5, 3.0
NOISE = 0.25
WRONG = 0.1
ROLLERS = 0.03
WASHED_OUT = 0.15
REPORTED = 2
SPOILED = 0.4
OWN_KIND = 0.4
"""Standard deviation of the logarithm of each effect, for waves of their own kind."""
GRAVITY = 9.80665

UNIT = {
    "speed": 0.6, "centre": 15.0, "off": 15.0, "lean": 2.0, "trim": 1.0, "water": 300.0,
    "depth": 0.1,
}  # fmt: skip

# height, length, steepness, push, cleanness for one unit more of each: the lever table.
EFFECT: Mapping[str, tuple[float, float, float, float, float]] = {
    "speed": (-0.5, 1, -1, -1, 1),
    "water": (1, 0.5, 0, 1, 1),
    "trim": (1, -1, 1, 1, -1),
    "lean": (1, -1, 1, 1, 1),
    "off": (1, -0.5, 1, 1, 1),
    "centre": (-1, 1, -1, -1, 1),
    "depth": (-0.5, 1, -1, -1, -1),
}

OPPOSITE: Mapping[str, tuple[str, ...]] = {
    "too_steep": ("long_and_low", "too_little_push"),
    "long_and_low": ("too_steep", "white_crest"),
    "too_short": ("long_and_low", "too_little_push"),
    "too_little_push": ("catches_boat", "white_crest"),
    "falls_back": ("catches_boat",),
    "catches_boat": ("too_little_push", "long_and_low"),
    "white_crest": ("long_and_low", "too_little_push", "rolls_over"),
    "rolls_over": ("white_crest",),
    "bow_diving": ("bow_high",),
    "bow_high": ("bow_diving", "spray_over_bow"),
    "spray_over_bow": ("bow_high",),
    "porpoising": ("bow_diving", "spray_over_bow"),
}
"""Which signs say that a change went past the mark: too slow and the crest crumbles, too fast and
the wave flattens; steep against long and low: common practice."""

SEEN = (
    "white_crest", "wash_on_top", "no_face", "too_steep", "too_short", "long_and_low",
    "too_little_push", "rolls_over", "wrong_side", "falls_back", "catches_boat", "bow_diving",
    "porpoising", "wandering", "spray_over_bow", "bow_high",
)  # fmt: skip


@dataclass(frozen=True)
class Best:
    """Where this boat, with this crew and rider, throws its best wave."""

    speed: float
    centre: float
    off: float
    lean: float
    trim: float
    water: float


@dataclass(frozen=True)
class State:
    """What is set: km/h, percent, percent by tank, a seat for each person, depth (m)."""

    speed: float
    centre: float
    off: float
    surf: float
    fills: tuple[tuple[str, float], ...]
    seats: tuple[str, ...]
    depth: float
    feet_right: bool = True
    rollers: bool = False

    @property
    def settings(self) -> tuple[object, ...]:
        """What counts as the state for "never the same state three times"."""
        return (
            self.speed, self.centre, self.off, self.surf, self.fills, tuple(sorted(self.seats)),
            self.depth, self.feet_right,
        )  # fmt: skip


@dataclass
class Wave:
    """One boat with its crew, rider and hidden best, and what can be seen behind it."""

    boat: Boat
    side: Side
    masses: tuple[float, ...]
    rider: Rider
    best: Best
    level: float
    chance: random.Random
    effect: Mapping[str, tuple[float, ...]] = field(default_factory=lambda: EFFECT)
    _attitudes: dict[object, Attitude] = field(default_factory=dict)

    def attitude(self, state: State) -> Attitude:
        """How the boat lies at rest, in the surf frame."""
        key = (state.fills, state.seats)
        if key not in self._attitudes:
            self._attitudes[key] = aboard(self, state).attitude()
        return self._attitudes[key]

    def water(self, state: State) -> float:
        capacity = {tank.id: tank.capacity for tank in self.boat.tanks}
        return 1000.0 * math.fsum(fill / 100 * capacity[tank] for tank, fill in state.fills)

    def off_best(self, state: State) -> dict[str, float]:
        """How far each lever is from its best, in units; depth only the shortage."""
        attitude = self.attitude(state)
        froude = state.speed / 3.6 / math.sqrt(GRAVITY * state.depth)
        return {
            "speed": (state.speed - self.best.speed) / UNIT["speed"],
            "centre": (state.centre - self.best.centre) / UNIT["centre"],
            "off": (state.off - self.best.off) / UNIT["off"],
            "lean": ((attitude.lean or 0.0) - self.best.lean) / UNIT["lean"],
            "trim": ((attitude.trim or 0.0) - self.level - self.best.trim) / UNIT["trim"],
            "water": (self.water(state) - self.best.water) / UNIT["water"],
            "depth": soft((froude - 0.65) / UNIT["depth"]),
        }

    def truth(self, state: State, noise: float = 0.0) -> dict[str, float]:
        """The strength of every sign; visible from ``SLIGHT``."""
        x = self.off_best(state)
        height, length, steep, push, clean = (
            math.fsum(self.effect[lever][n] * x[lever] for lever in EFFECT)
            + (self.chance.gauss(0.0, noise) if noise else 0.0)
            for n in range(5)
        )
        face = (
            gate(x["off"] + 3.5) * gate(5.0 - abs(x["speed"])) * gate(4.0 - x["depth"])
            * gate(3.0 - state.surf / 15.0)
        )  # fmt: skip
        feet = 0.0 if state.feet_right else 1.5
        wave = {
            "white_crest": soft(-clean),
            "too_steep": soft(steep),
            "too_short": soft(-length),
            "long_and_low": soft(-(steep + height) / 2.0),
            "too_little_push": soft(-push),
            "falls_back": soft(-push - 1.0) + feet,
            "catches_boat": soft(push),
            "rolls_over": soft(x["lean"] + 0.5 * x["off"] + 0.5 * x["water"] - 1.5),
        }
        signs = {name: value * face for name, value in wave.items()}
        signs["no_face"] = 4.0 * (1.0 - face) if state.surf < 15 else 0.0
        signs["wrong_side"] = state.surf / 10.0
        signs["spray_over_bow"] = soft(-x["trim"] - 1.5)
        signs["wandering"] = soft(-x["trim"] - 1.75)
        signs["bow_diving"] = soft(-x["trim"] - 2.0)
        signs["bow_high"] = soft(x["trim"] - 1.5)
        signs["porpoising"] = soft(x["trim"] + 0.5 * x["speed"] - 2.0)
        signs["lumps"] = 2.0 if state.rollers else 0.0
        return signs

    def clean(self, state: State) -> bool:
        """No sign would be seen by anybody on an average wave."""
        return max(self.truth(replace(state, rollers=False)).values()) < SLIGHT

    def look(self, state: State) -> list[tuple[str, str]]:
        """What is reported after watching: the two strongest signs, wrong one time in ten."""
        if self.chance.random() < WRONG:
            if self.chance.random() < 0.5:
                return []
            sign = self.chance.choice(SEEN)
            return [(sign, self.chance.choice(["slight", "clear", "strong"]))]
        signs = self.truth(state, NOISE)
        shown = sorted((name for name in signs if signs[name] >= SLIGHT), key=lambda n: -signs[n])
        return [(name, strength(signs[name])) for name in shown[:REPORTED]]

    def loosely(self, report: list[tuple[str, str]]) -> list[tuple[str, str]]:
        """Now and then "washed out" is said where a crumbling or a flat wave is meant."""
        meant = bool(report) and report[0][0] in ("white_crest", "long_and_low")
        if meant and self.chance.random() < WASHED_OUT:
            return [("washed_out", report[0][1])]
        return report

    def judge(self, before: State, after: State) -> str:
        """What a change did, judged over half a minute of waves: wrong one time in ten."""
        words = ["better", "worse", "same", "reversed"]
        old, new = self.truth(before), self.truth(after)
        old_bad, new_bad = (math.fsum(max(v - 0.5, 0.0) for v in s.values()) for s in (old, new))
        main = max(old, key=lambda name: old[name])
        past = any(old[o] < SLIGHT <= new[o] for o in OPPOSITE.get(main, ()))
        if old[main] >= SLIGHT > new[main] and past:
            word = "reversed"
        elif hidden(old) != hidden(new):
            word = "better" if hidden(old) else "worse"  # with a wave to see, its faults are seen
        elif new_bad < old_bad - 0.3:
            word = "better"
        else:
            word = "worse" if new_bad > old_bad + 0.3 else "same"
        if self.chance.random() < WRONG:
            return self.chance.choice([other for other in words if other != word])
        return word


def hidden(signs: Mapping[str, float]) -> bool:
    """Whether there is no wave on the ridden side whose faults could be seen."""
    return signs["no_face"] >= CLEAR or signs["wrong_side"] >= CLEAR


def soft(x: float) -> float:
    """Softplus: smooth, 0 far below zero and x far above it."""
    return x if x > 20 else math.log1p(math.exp(4.0 * x)) / 4.0


def gate(x: float) -> float:
    """From 0 (x well below zero) to 1 (well above it), smoothly."""
    return 1.0 / (1.0 + math.exp(-4.0 * max(min(x, 50.0), -50.0)))


def strength(value: float) -> str:
    return "strong" if value >= STRONG else "clear" if value >= CLEAR else "slight"


def aboard(wave: Wave, state: State) -> LoadingCondition:
    """What is aboard, in the surf frame."""
    request = AdviceRequest(
        boat=wave.boat,
        rider=wave.rider,
        crew=crew(wave, state),
        ballast={tank: fill / 100 for tank, fill in state.fills},
        water=water(state),
        fuel=0.5,
    )
    return condition_of(request, wave.side, Gaps(load()))


def crew(wave: Wave, state: State) -> tuple[Person, ...]:
    seated = zip(wave.masses, state.seats, strict=True)
    return tuple(Person(m, seat, number=n) for n, (m, seat) in enumerate(seated, 1))


def water(state: State) -> Water:
    return Water(WaterKind.FRESH, 20.0, state.depth, 200.0)


def setups(
    boats: list[Boat], count: int, seed: int, anywhere: float = SPOILED, own_kind: float = 0.0
) -> Iterator[tuple[Wave, State]]:
    """``count`` random bad set-ups inside the limits.

    Each lever is anywhere in its range with the chance ``anywhere``, else where people usually put
    it. With 1.0 nothing is where it belongs, every tank and every seat included. With ``own_kind``
    each boat answers its levers otherwise than the table.
    """
    found, number = 0, 0
    while found < count:
        chance = random.Random(f"{seed}-{number}")  # noqa: S311  # a wave, not a secret
        number += 1
        wave = _wave(chance.choice(boats), chance)
        if own_kind:
            other = random.Random(f"{seed}-{number}-own")  # noqa: S311
            wave.effect = {
                lever: tuple(effect * math.exp(other.gauss(0.0, own_kind)) for effect in effects)
                for lever, effects in EFFECT.items()
            }
        state = _setup(wave, chance, anywhere)
        if within_lines(wave, state) and not wave.clean(state):
            found += 1
            yield wave, state


def _wave(boat: Boat, chance: random.Random) -> Wave:
    """A crew the boat may carry and any of whom may drive, a rider, and their best set-up."""
    most = min(boat.limits.persons or 12, sum(seat.places for seat in boat.seats)) - 2
    masses = tuple(
        round(min(max(chance.gauss(76, 14), 45), 110), 1) for _ in range(chance.randint(2, most))
    )
    stance = chance.choice([Stance.REGULAR] * 3 + [Stance.GOOFY])
    rider = Rider(
        round(min(max(chance.gauss(74, 16), 35), 120), 1), stance, chance.choice(list(Board)),
        chance.choice(list(Level)),
    )  # fmt: skip
    side = Side.PORT if stance is Stance.REGULAR else Side.STARBOARD
    new = rider.level in (Level.FIRST_TIME, Level.BEGINNER)
    heavy = (rider.mass or 0.0) - 80.0
    crowd = sum(masses) - 240.0
    full = 1000.0 * sum(tank.capacity for tank in boat.tanks)
    best = Best(
        speed=_between(
            17.2 + 0.008 * heavy + 0.0004 * max(crowd, 0) + chance.gauss(0, 0.4), 16.2, 19.0
        ),
        centre=_between(
            55 - 0.3 * heavy + (8 if new else -3) + (8 if rider.board is Board.SKIM else -4)
            + chance.gauss(0, 8), 10, 90,
        ),
        off=_between(66 + 0.02 * crowd + chance.gauss(0, 6), 45, 90),
        lean=_between(1.5 + chance.gauss(0, 0.8), 0.0, 4.0),
        trim=_between(chance.gauss(0, 0.4), -1.0, 1.0),
        water=full * chance.uniform(0.75, 1.0),
    )  # fmt: skip
    wave = Wave(boat, side, masses, rider, best, 0.0, chance)
    bare = Wave(boat, side, (), rider, best, 0.0, chance)
    level = bare.attitude(
        State(17.2, 50, 70, 0, tuple((tank.id, 100.0) for tank in boat.tanks), (), 8.0)
    )
    return replace_level(wave, level.trim or 0.0)


def replace_level(wave: Wave, level: float) -> Wave:
    wave.level = level
    return wave


def _between(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _setup(wave: Wave, chance: random.Random, anywhere: float) -> State:
    """Each lever anywhere in its range, or where people usually put it; a driver at the helm and
    an observer where the rider is seen.
    """

    def lever(usual: float, scatter: float, low: float, high: float, digits: int = 0) -> float:
        if chance.random() < anywhere:
            return round(chance.uniform(low, high), digits)
        return round(_between(chance.gauss(usual, scatter), low, high), digits)

    crowd = sum(wave.masses) - 240.0
    own = [_seat_of(wave.boat, role) for role in (SeatRole.DRIVER, SeatRole.OBSERVER)]
    places = [s.id for s in wave.boat.seats if s.id != own[0] for _ in range(s.places)]
    places.remove(own[1])
    chance.shuffle(places)
    if chance.random() >= anywhere:
        places = _spread(wave.boat, places, len(wave.masses) - 2)
    fills = [lever(95, 4, 30, 100) for _ in wave.boat.tanks]
    return State(
        speed=lever(17.2, 0.3, 16.0, 19.3, 1),
        centre=lever(55, 10, 0, 100),
        off=lever(66 + 0.02 * crowd, 6, 0, 90),
        surf=float(round(chance.uniform(10, 60))) if chance.random() < 0.1 * anywhere else 0.0,
        fills=tuple((t.id, f) for t, f in zip(wave.boat.tanks, fills, strict=True)),
        seats=(*own, *places[: len(wave.masses) - 2]),
        depth=round(chance.uniform(2.5, 6) if chance.random() < 0.2 else chance.uniform(6, 12), 1),
        feet_right=chance.random() < 0.9,
    )


def _seat_of(boat: Boat, role: SeatRole) -> str:
    return next(seat.id for seat in boat.seats if seat.role is role)


def _spread(boat: Boat, places: list[str], count: int) -> list[str]:
    """Of some random seatings the one that lies most evenly: people do not all sit on one side."""
    seats = {seat.id: seat for seat in boat.seats}
    middle = sum(seats[p].x for p in places) / len(places)
    tries = [places[n:] + places[:n] for n in range(len(places))]
    return min(
        tries,
        key=lambda ids: (
            abs(sum(seats[i].y for i in ids[:count]))
            + abs(sum(seats[i].x - middle for i in ids[:count]))
        ),
    )


def within_lines(wave: Wave, state: State) -> bool:
    """Inside what the tuning must never leave: ranges, tanks, load, lean, freeboard, the bow."""
    boat = wave.boat
    most = {tank.id: 100 * tank.max_fill for tank in boat.tanks}
    attitude = wave.attitude(state)
    board = attitude.freeboard
    load = math.fsum(wave.masses) + (wave.rider.mass or 0.0)
    if boat.limits.includes_ballast is not False:
        load += wave.water(state)
    return (
        16.0 <= state.speed <= 19.3
        and all(0 <= plate <= 100 for plate in (state.centre, state.off, state.surf))
        and all(0 <= fill <= most[tank] + 1e-9 for tank, fill in state.fills)
        and load <= (boat.limits.load_mass or math.inf)
        and _bow_holds(aboard(wave, state))
        and attitude.floats
        and abs(attitude.lean or 0.0) <= 7.0
        and board is not None
        and board.least >= 0.35
    )


def _bow_holds(condition: LoadingCondition) -> bool:
    most, mass = bow_limits(condition.boat, CrewRules.of(load()))
    return len(condition.bow_people()) <= most and condition.bow_mass <= mass
