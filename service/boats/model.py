"""A boat as the calculation sees it.

Axes: origin on the keel line at the transom, ``x`` forward, ``y`` to port, ``z`` up.
Units: SI throughout (m, kg, m³, m³/s, radians); fills and plate travel are fractions.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from service.calibration.learned import Learned
from service.hydrostatics.hull import Hull


class Side(StrEnum):
    """A side of the boat, looking forward."""

    PORT = "port"
    STARBOARD = "starboard"

    @property
    def other(self) -> Side:
        return Side.STARBOARD if self is Side.PORT else Side.PORT

    @property
    def sign(self) -> float:
        """Of ``y`` on this side. Seen from this side as the surf side, ``y`` is ``sign · y``."""
        return 1.0 if self is Side.PORT else -1.0

    def across(self, y: float) -> float:
        """``y`` between the boat's own axes and the frame in which this side is to port.

        Never a negative zero, which would tell a place from its mirror image.
        """
        return self.sign * y + 0.0


class Propulsion(StrEnum):
    """How the boat is driven; what decides whether anybody may ride behind it at all."""

    INBOARD = "inboard"
    V_DRIVE = "v_drive"
    FORWARD_DRIVE = "forward_drive"
    STERN_DRIVE = "stern_drive"
    OUTBOARD = "outboard"
    JET = "jet"


@dataclass(frozen=True, slots=True)
class Light:
    """The boat without people, water ballast, fuel and gear: mass (kg) and its centre (m)."""

    mass: float
    x: float
    y: float
    z: float


@dataclass(frozen=True, slots=True)
class FuelTank:
    """Fuel: capacity (m³) and its centre (m)."""

    capacity: float
    x: float
    y: float
    z: float


@dataclass(frozen=True, slots=True)
class Tank:
    """A ballast tank or bag.

    ``x, y, z`` is the centre of the water when the tank is full. ``length`` and ``width`` are
    those of the free surface (m); where either is 0 the free surface is unknown and left out.
    ``fill_rate`` and ``drain_rate`` are in m³/s, ``None`` when unknown. ``max_fill`` is the
    largest fill as a fraction of capacity: 1.0, or more where the tank can take an overfill.
    """

    id: str
    capacity: float
    x: float
    y: float
    z: float
    length: float = 0.0
    width: float = 0.0
    fill_rate: float | None = None
    drain_rate: float | None = None
    max_fill: float = 1.0


class SeatRole(StrEnum):
    """What a seat is for. Ids mean nothing."""

    DRIVER = "driver"
    OBSERVER = "observer"
    COCKPIT = "cockpit"
    BOW = "bow"
    STERN = "stern"


class Faces(StrEnum):
    """Which way someone on a seat looks: whether they can watch the rider without turning."""

    FORWARD = "forward"
    AFT = "aft"
    ACROSS = "across"


@dataclass(frozen=True, slots=True)
class Seat:
    """A seat or bench: the centre of a seated person (m) and how many people it takes.

    ``faces``: ``None`` where nobody said.
    """

    id: str
    x: float
    y: float
    z: float
    places: int = 1
    role: SeatRole = SeatRole.COCKPIT
    faces: Faces | None = None

    @property
    def can_watch(self) -> bool:
        """Whether the rider can be seen from here the whole time."""
        if self.role is SeatRole.OBSERVER:
            return True
        return self.role in (SeatRole.COCKPIT, SeatRole.STERN) and self.faces is not Faces.FORWARD


@dataclass(frozen=True, slots=True)
class Plate:
    """A plate at the transom: chord and span (m), angle at full travel (radians)."""

    chord: float
    span: float
    max_angle: float


@dataclass(frozen=True, slots=True)
class Plates:
    """The three plates; ``None`` where the boat has none."""

    centre: Plate | None = None
    port: Plate | None = None
    starboard: Plate | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """The maker's limits. ``None`` is unknown, and is said to be unknown, never guessed.

    ``persons_mass`` and ``load_mass`` are in kg. ``includes_ballast`` tells whether the maker's
    load figure already counts the built-in ballast water *as part of the load aboard*.
    ``bow_persons`` and ``bow_mass`` (kg) are the maker's limits for the bow alone.
    """

    persons: int | None = None
    persons_mass: float | None = None
    load_mass: float | None = None
    includes_ballast: bool | None = None
    bow_persons: int | None = None
    bow_mass: float | None = None


@dataclass(frozen=True, slots=True)
class Boat:
    """One motorboat with its hull, weights, tanks, seats, plates and limits (SI).

    ``fill_step``: the fraction that its gauges show, ``None`` for the usual one. ``learned``: what
    its log and a running trim read on the water say; of kept boats only.
    """

    id: str
    name: str
    propulsion: Propulsion
    length_overall: float
    beam: float
    hull: Hull
    light: Light
    fuel: FuelTank
    tanks: tuple[Tank, ...]
    seats: tuple[Seat, ...]
    plates: Plates
    limits: Limits
    learned: Learned | None = None
    fill_step: float | None = None


def mirrored(boat: Boat) -> Boat:
    """The same boat seen in a mirror: every ``y`` changes sign, port and starboard plates swap."""
    return replace(
        boat,
        light=replace(boat.light, y=-boat.light.y),
        fuel=replace(boat.fuel, y=-boat.fuel.y),
        tanks=tuple(replace(tank, y=-tank.y) for tank in boat.tanks),
        seats=tuple(replace(seat, y=-seat.y) for seat in boat.seats),
        plates=replace(boat.plates, port=boat.plates.starboard, starboard=boat.plates.port),
    )
