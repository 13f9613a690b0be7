"""What all looks of a session say together: which best settings would have shown just that.

A thousand boats are imagined, with best settings about the advised ones, each answering its levers
a little differently; each look makes those more likely that would have shown it. Positions are in
units of the levers, in the order of ``rules/tuning/levers.yaml``; ``rules/tuning/evidence.yaml``
says what each parameter means. Importance sampling with fixed draws, so the same session always
gives the same answer. Rough: it ranks changes and says how far, and passes or fails nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from rules.tuning import PROPERTIES, TuningBase
from service.advice.tuning.requests import Did, Seen

Array = NDArray[np.float64]

_OUTLIERS = 3.0
"""Draws further out than this many standard deviations are cut off there."""
_LEAST_LIKELY = 1e-3
"""Boats this much less likely than the likeliest one are not asked."""


@dataclass(frozen=True, slots=True)
class Look:
    """What was seen with the levers at ``position`` (L,)."""

    position: Array
    seen: Mapping[str, float]
    """Sign and strength in units."""


@dataclass(frozen=True, slots=True)
class Figures:
    """The parameters of ``rules/tuning/evidence.yaml`` that a look is read with."""

    visible: float
    scatter: float
    wrong: float
    amiss: float
    astray: float
    strength: Mapping[str, float]
    chance: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Belief:
    """``count`` imagined boats: ``best`` (N, L), what a unit of each lever does to each sign
    ``shows`` (N, S, L), and how likely each is, ``likely`` (N,), of sum 1.
    """

    figures: Figures
    signs: tuple[str, ...]
    begins: Array
    best: Array
    shows: Array
    likely: Array

    def strengths(self, position: Array) -> Array:
        """How strongly each boat shows each sign at a position (…, 1, L): (…, N, S)."""
        off = position - self.best
        shown = np.einsum("...nl,nsl->...ns", off, self.shows, optimize=True)
        strength: Array = np.maximum(shown - self.begins, 0.0)
        return strength

    def after(self, looks: Iterable[Look]) -> Belief:
        """What is believed once these looks are known, too."""
        likely = np.log(self.likely)
        for look in looks:
            likely = likely + self._explains(look)
        return self._with(likely)

    def judged(self, before: Array, after: Array, did: Did) -> Belief:
        """What is believed once someone judged a change; past the mark says nothing here."""
        if did is Did.REVERSED:
            return self
        less = self._amiss(before) - self._amiss(after)
        unit = self.figures.scatter / 2.0  # less than this nobody calls a change
        better, worse = (1.0 / (1.0 + np.exp(-(way * less - unit) / unit)) for way in (1, -1))
        said = {Did.BETTER: better, Did.WORSE: worse, Did.SAME: 1.0 - better - worse}[did]
        wrong = self.figures.wrong
        chance = np.log((1.0 - wrong) * np.maximum(said, 0.0) + wrong / 3.0)
        return self._with(np.log(self.likely) + chance)

    def contradicts(self, look: Look) -> float:
        """How surely a look that is among those known is simply wrong, from 0 to 1."""
        return float(np.exp(np.log(self._wrong(look)) - self._explains(look)) @ self.likely)

    def likeliest(self, count: int) -> Belief:
        """Only the likeliest boats."""
        order = np.argsort(-self.likely, kind="stable")[:count]
        kept = order[self.likely[order] >= _LEAST_LIKELY * self.likely.max()]
        likely = self.likely[kept]
        return replace(
            self, best=self.best[kept], shows=self.shows[kept], likely=likely / likely.sum()
        )

    def loss(self, positions: Array) -> Array:
        """For each position (C, L) what would be seen there, on average over the boats: (C,).

        1 for anything seen at all, and a little for how strong the strongest sign is and for how
        far each lever is from its own best.
        """
        strongest = self.strengths(positions[:, None, :]).max(axis=-1)
        astray = np.abs(positions[:, None, :] - self.best).sum(axis=-1)
        figures = self.figures
        seen = np.clip((strongest - figures.visible) / figures.scatter + 0.5, 0.0, 1.0)
        loss: Array = (seen + figures.amiss * strongest + figures.astray * astray) @ self.likely
        return loss

    def _amiss(self, position: Array) -> Array:
        amiss: Array = np.maximum(self.strengths(position) - self.figures.visible, 0.0).sum(axis=-1)
        return amiss

    def _explains(self, look: Look) -> Array:
        """Log-likelihood of a look for each boat: (N,).

        A sign that is named is about as strong as told; what is not named is weaker than what is,
        or not visible. Or else the look is simply wrong.
        """
        figures = self.figures
        strengths = self.strengths(look.position)
        told = np.array([look.seen.get(sign, np.nan) for sign in self.signs])
        named = ~np.isnan(told)
        weakest = min(look.seen.values(), default=0.0)
        miss = np.where(
            named, strengths - told, np.maximum(strengths - max(weakest, figures.visible), 0.0)
        )
        # Nothing is stronger than strong: from there on, more is no contradiction.
        miss = np.where(told >= max(figures.strength.values()), np.minimum(miss, 0.0), miss)
        fit = np.exp(-0.5 * ((miss / figures.scatter) ** 2).sum(axis=-1))
        explained: Array = np.log((1.0 - figures.wrong) * fit + self._wrong(look))
        return explained

    def _wrong(self, look: Look) -> float:
        """How likely it is that a look is simply wrong and says just this."""
        return self.figures.wrong * self.figures.chance["signs" if look.seen else "nothing"]

    def _with(self, log_likely: Array) -> Belief:
        likely = np.exp(log_likely - log_likely.max())
        return replace(self, likely=likely / likely.sum())


def figures(tuning: TuningBase) -> Figures:
    number = tuning.rules.number
    return Figures(
        visible=number("tuning_evidence.visible"),
        scatter=number("tuning_evidence.scatter"),
        wrong=number("tuning_evidence.wrong"),
        amiss=number("tuning_evidence.amiss"),
        astray=number("tuning_evidence.astray"),
        strength=_table(tuning, "strength"),
        chance=_table(tuning, "chance"),
    )


def _table(tuning: TuningBase, name: str) -> Mapping[str, float]:
    table = tuning.rules.parameters[f"tuning_evidence.{name}"].value
    if not isinstance(table, Mapping):
        raise TypeError(f"tuning_evidence.{name} is a table")
    return table


def imagine(tuning: TuningBase, advised: Array) -> Belief:
    """The boats before anything was seen; ``advised`` (L,) in units of the levers.

    NaN there is a lever that is not fitted: it is 0 wherever positions name it.
    """
    levers, numbers = list(tuning.levers.values()), figures(tuning)
    signs = [sign for sign in tuning.signs.values() if sign.shows]
    count = round(tuning.rules.number("tuning_evidence.imagined"))
    apart, answers = _draws(count, len(levers), len(PROPERTIES))
    differ = np.exp(tuning.rules.number("tuning_evidence.boats_differ") * answers)
    table = np.array([[lever.does.get(name, 0.0) for name in PROPERTIES] for lever in levers])
    waves = np.array([[sign.shows.get(name, 0.0) for name in PROPERTIES] for sign in signs])
    direct = np.array([[sign.shows.get(lever.name, 0.0) for lever in levers] for sign in signs])
    shows = np.einsum("sp,nlp->nsl", waves, table * differ) + direct * differ[:, None, :, 0]
    return Belief(
        numbers,
        tuple(sign.name for sign in signs),
        np.array([sign.begins for sign in signs]),
        np.nan_to_num(advised + apart * np.array([lever.advice for lever in levers])),
        shows,
        np.full(count, 1.0 / count),
    )


@lru_cache(maxsize=2)
def _draws(count: int, levers: int, properties: int) -> tuple[Array, Array]:
    """Standard normal draws, always the same: (count, levers), (count, levers, properties)."""
    chance = np.random.default_rng(1)
    apart = np.clip(chance.standard_normal((count, levers)), -_OUTLIERS, _OUTLIERS)
    return apart, chance.standard_normal((count, levers, properties))


def told(seen: Sequence[Seen], tuning: TuningBase) -> Mapping[str, float] | None:
    """A look as evidence: strengths in units of the signs that show something.

    ``None`` where it says nothing of the levers: something hides the rest, or only signs are seen
    that have other causes as well.
    """
    if any(tuning.signs[s.sign].hides for s in seen):
        return None
    strength = figures(tuning).strength
    signs = {s.sign: strength[s.strength] for s in seen if tuning.signs[s.sign].shows}
    return signs if signs or not seen else None
