"""Set-ups that are kept: which one to use, and how its boat lay as far as that is known."""

from __future__ import annotations

from collections.abc import Sequence

from rules.base import RuleBase
from service.advice.requests import KeptSetup, LoadingRequest, Saved
from service.advice.situation import Gaps, condition_of
from service.boats.model import Boat, Side

NOT_TOLD = "the saved set-up does not tell it"
AS_THE_RULES = "as the rules have it"


def chosen(
    told: Saved | KeptSetup | None, own: Sequence[KeptSetup], boat: Boat, side: Side, gaps: Gaps,
    base: RuleBase,
) -> Saved | None:  # fmt: skip
    """What was told, else the first of ``own`` that is for ``side``; it never changes the side."""
    if isinstance(told, Saved):
        return told
    kept = told or next((each for each in own if each.surf_side in (None, side)), None)
    return None if kept is None else as_it_lay(kept, boat, gaps, base)


def as_it_lay(kept: KeptSetup, boat: Boat, gaps: Gaps, base: RuleBase) -> Saved:
    """The set-up with how its boat lay, as far as what was told of it decides that.

    Without the crew or the water the displacement is unknown, without everybody's place heel and
    trim are: nothing is corrected by what is unknown, and ``gaps`` says so.
    """
    own = Gaps(base)
    there = LoadingRequest(
        kept.boat, kept.crew or (), kept.tanks or {}, kept.loads, kept.water, kept.fuel
    )
    condition = condition_of(there, Side.PORT, own)  # the boat's own axes
    weighed = kept.crew is not None and kept.tanks is not None
    placed = weighed and all(person.placed for person in condition.people)
    attitude = condition.attitude()
    missing = {
        "crew": kept.crew is None,
        "tanks": kept.tanks is None,
        "crew/*/seat": weighed and not placed,
        "speed": kept.speed is None,
        **{
            f"plates/{name}": kept.plates.get(name) is None
            for name in ("centre", "port", "starboard")
            if getattr(kept.boat.plates, name) is not None
        },
    }
    for name, is_missing in missing.items():
        if is_missing:
            gaps.say(f"/saved/{name}", AS_THE_RULES, "", NOT_TOLD)
    for gap in own.assumed if weighed else ():
        gaps.say(f"/saved{gap.pointer}", gap.value, gap.dimension, gap.source)
    return Saved(
        boat=None if kept.boat.id == boat.id != "inline" else kept.boat,
        surf_side=kept.surf_side,
        speed=kept.speed,
        plates=kept.plates,
        tanks=kept.tanks,
        displacement=attitude.loading.mass if weighed else None,
        heel=attitude.floating.heel if placed else None,
        trim=attitude.floating.trim if placed else None,
        id=kept.id,
    )
