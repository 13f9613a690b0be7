"""The tuning on the water as data: signs, moves, and rules run by the same gateway.

``signs.yaml`` says what can be seen and how to tell it from its look-alike, ``moves.yaml`` what
can be moved and in which order, ``levers.yaml`` what a lever does to the wave; every other file is
a topic of rules or parameters in the form of the rule base.
"""

from rules.tuning.base import PROPERTIES, Lever, Move, Sign, TuningBase, load

__all__ = ["PROPERTIES", "Lever", "Move", "Sign", "TuningBase", "load"]
