"""What the main job answers, in SI units, seen as the boat is (no longer mirrored)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rules.accounts import Account
from rules.base import RuleBase
from rules.model import Caution, Facts, Firing, Verdict, Watch
from service.advice.changeover import Changeover
from service.advice.loading_plan import Obstacle
from service.advice.requests import Load, Person, Role
from service.advice.situation import Assumption, FilledRider
from service.boats.model import Boat, Side
from service.hydrostatics.equilibrium import Status
from service.hydrostatics.stability import Freeboard, Hydrostatics
from service.hydrostatics.weights import Loading
from service.running.estimate import TrimEstimate
from service.running.waves import WavePattern

OWN_PLACE = "own place"
"""Where someone is who came with coordinates instead of a seat."""


@dataclass(frozen=True, slots=True)
class TankSetting:
    """Water for one tank: fill and what is there now (fractions), volume (m³), mass (kg).

    ``change`` (m³) is the water to let in, or out where negative.
    """

    tank: str
    fill: float
    now: float
    volume: float
    mass: float
    change: float


@dataclass(frozen=True, slots=True)
class Seating:
    """Where one person goes: seat ids, :data:`OWN_PLACE` for coordinates.

    ``role`` as it was settled. ``origin`` is ``None`` for someone not placed yet, ``goal`` where
    no seat is left. ``moves``: leaves a place that was given; ``gain`` (degrees) is how much nearer
    lean and trim together come to what is wanted by it, ``None`` where it is for another reason.
    """

    person: Person
    role: Role
    origin: str | None
    goal: str | None
    moves: bool = False
    gain: float | None = None


@dataclass(frozen=True, slots=True)
class Moving:
    """What it costs that people leave places they were given: how many, and how long (s).

    ``least_gain`` (degrees): nobody is asked to for less.
    """

    people: int
    seconds: float
    least_gain: float


@dataclass(frozen=True, slots=True)
class Shifting:
    """A movable load (kg) to be shifted from ``x, y`` to beside a seat, at its own ``z`` (m)."""

    name: str
    mass: float
    x: float
    y: float
    z: float
    goal: str


@dataclass(frozen=True, slots=True)
class Setup:
    """The set-up. Speed in m/s; plates as fractions, ``None`` where none is fitted.

    ``seating`` has one entry a person, in the order given; ``listed`` tells whether the request
    listed them, or gave a head count. ``loads`` are those to be shifted; all others stay.
    ``moving`` is ``None`` where nobody leaves a place.
    """

    surf_side: Side
    speed: float
    centre_plate: float | None
    port_plate: float | None
    starboard_plate: float | None
    tanks: tuple[TankSetting, ...]
    seating: tuple[Seating, ...]
    loads: tuple[Shifting, ...] = ()
    listed: bool = False
    moving: Moving | None = None


@dataclass(frozen=True, slots=True)
class AtRest:
    """How the boat lies; angles in radians in the axes of the boat, lengths in m.

    ``loading`` is the mass with its centre of gravity, in the same axes; ``density`` (kg/m³) that
    of the water. ``iterations``: evaluations of the hull that it took.
    """

    status: Status
    iterations: int
    loading: Loading
    density: float
    displacement: float
    draft_origin: float | None
    draft_amidships: float | None
    heel: float | None
    trim: float | None
    freeboard: Freeboard | None
    hydrostatics: Hydrostatics | None


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What a small change does, to first order: heel, trim (radians), least freeboard (m)."""

    change: str
    where: str
    heel: float
    trim: float
    least_freeboard: float


@dataclass(frozen=True, slots=True)
class Sighted:
    """Something to watch for, and the rule that says so."""

    rule: str
    watch: Watch


@dataclass(frozen=True, slots=True)
class Warned:
    """A caution and the rule that gives it."""

    rule: str
    caution: Caution


@dataclass(frozen=True, slots=True)
class Advice:
    """The whole answer with everything that explains it, and the rounds that the solver took.

    ``changeover`` is there where it was told what is in the tanks now; it and ``obstacles`` speak
    of ``seats``, ``tanks`` and ``loads`` by their index here, and of places in the surf frame.
    """

    boat: Boat
    rider: FilledRider
    verdict: Verdict
    setup: Setup
    at_rest: AtRest
    running: TrimEstimate | None
    wave: WavePattern
    accounts: Mapping[str, Account]
    firings: tuple[Firing, ...]
    facts: Facts
    found: frozenset[str]
    cautions: tuple[Warned, ...]
    watch_for: tuple[Sighted, ...]
    sensitivities: tuple[Sensitivity, ...]
    assumed: tuple[Assumption, ...]
    base: RuleBase
    rounds: int
    obstacles: tuple[Obstacle, ...]
    changeover: Changeover | None
    seats: tuple[str, ...]
    tanks: tuple[str, ...]
    loads: tuple[Load, ...] = ()
