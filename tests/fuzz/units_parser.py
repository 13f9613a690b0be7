"""Coverage-guided fuzzing of the parser of quantities, with atheris, for a bounded time.

    pip install atheris
    python -m tests.fuzz.units_parser -max_total_time=60

atheris is no dependency of the tests: its wheels do not exist for every machine. Whatever is
parsed is a plain number with a unit, and everything else is refused with the one error there is.
"""

from __future__ import annotations

import sys
from fractions import Fraction

import atheris  # type: ignore[import-untyped]

from schemas import units
from schemas.units import UNITS, Dimension, System, UnknownQuantityError, express

parse = atheris.instrument_func(units.parse)
DIMENSIONS = tuple(Dimension)
PIECES = [*"0123456789+-.eE \t\u00a0\u0661", "00000000", "e-99"]


@atheris.instrument_func  # type: ignore[untyped-decorator]
def once(data: bytes) -> None:
    provider = atheris.FuzzedDataProvider(data)
    dimension = DIMENSIONS[provider.ConsumeIntInRange(0, len(DIMENSIONS) - 1)]
    if provider.ConsumeBool():
        text = provider.ConsumeUnicode(60)
    else:  # what coverage would hardly find: it does not see into a regular expression
        text = "".join(
            provider.PickValueInList(PIECES) for _ in range(provider.ConsumeIntInRange(0, 12))
        )
        spellings = sorted(UNITS[dimension])
        text += spellings[provider.ConsumeIntInRange(0, len(spellings) - 1)]
    try:
        inside = parse(text, dimension)
    except UnknownQuantityError:
        return
    assert isinstance(inside, Fraction)
    assert len(text) <= 40
    assert any(character.isdigit() for character in text)
    for system in System:
        express(float(inside), dimension, system)


if __name__ == "__main__":
    atheris.Setup(sys.argv, once)
    atheris.Fuzz()
