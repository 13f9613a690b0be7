"""What was measured of a boat on one occasion, in SI units, as an operator tells it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.advice.requests import Load, Person, Water
from service.boats.model import Side
from service.calibration.inclining import from_pendulum
from service.calibration.known import WEIGHBRIDGE
from service.calibration.survey import PHONE, TAPE


@dataclass(frozen=True, slots=True)
class FreeboardRead:
    """A freeboard by tape (m); ``accuracy`` is its standard deviation."""

    x: float
    side: Side
    height: float
    accuracy: float = TAPE


@dataclass(frozen=True, slots=True)
class Moved:
    """A mass (kg) moved athwartships by ``distance`` (m)."""

    mass: float
    distance: float
    to: Side


@dataclass(frozen=True, slots=True)
class Pendulum:
    """A plumb line: its length and how far the bob went (m), to starboard positive."""

    length: float
    deflection: float


@dataclass(frozen=True, slots=True)
class HeelRead:
    """A heel (radians, starboard down), by itself or by a pendulum, with ``moved`` moved."""

    moved: Moved | None = None
    heel: float | None = None
    pendulum: Pendulum | None = None
    accuracy: float = PHONE

    @property
    def angle(self) -> float:
        if self.pendulum is not None:
            return from_pendulum(self.pendulum.deflection, self.pendulum.length)
        return self.heel or 0.0

    @property
    def moment(self) -> float:
        """kg·m to port."""
        if self.moved is None:
            return 0.0
        sign = 1.0 if self.moved.to is Side.PORT else -1.0
        return sign * self.moved.mass * self.moved.distance


@dataclass(frozen=True, slots=True)
class KnownLoading:
    """What was aboard while something was read; everybody with mass and place."""

    fuel: float
    crew: tuple[Person, ...] = ()
    ballast: Mapping[str, float] | None = None
    loads: tuple[Load, ...] = ()
    water: Water = field(default_factory=Water)


@dataclass(frozen=True, slots=True)
class DockLoading(KnownLoading):
    """A loading at the dock and what was read with it."""

    freeboards: tuple[FreeboardRead, ...] = ()
    inclining: tuple[HeelRead, ...] = ()


@dataclass(frozen=True, slots=True)
class Weighed:
    """The light boat on a weighbridge (kg)."""

    mass: float
    accuracy: float = WEIGHBRIDGE


@dataclass(frozen=True, slots=True)
class Ashore:
    """Keel to sheer at the transom, and the breadth over the chines there (m)."""

    depth: float | None = None
    breadth: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningTrim(KnownLoading):
    """The trim (radians, bow up) read under way at ``speed`` (m/s); plates as fractions."""

    speed: float
    trim: float
    centre_plate: float = 0.0
    off_side_plate: float = 0.0


@dataclass(frozen=True, slots=True)
class LogUse:
    """Whether the boat's runs are learned from; ``half_life`` in seconds, ``None``: no decay."""

    use: bool = True
    half_life: float | None = None


@dataclass(frozen=True, slots=True)
class Calibration:
    """What was measured on one occasion; ``log`` changes how the log is used from then on."""

    loadings: tuple[DockLoading, ...] = ()
    weighed: Weighed | None = None
    ashore: Ashore | None = None
    running_trim: RunningTrim | None = None
    log: LogUse | None = None
    notes: str | None = None

    @property
    def readings(self) -> int:
        """How many were read at the dock: each is solved for in the fit."""
        return sum(len(each.freeboards) + len(each.inclining) for each in self.loadings)
