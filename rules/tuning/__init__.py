"""The tuning on the water as data: signs, moves, and rules run by the same gateway.

``signs.yaml`` says what can be seen and how to tell it from its look-alike, ``moves.yaml`` what
can be moved and in which order; every other file is a topic of rules in the form of the rule base.
"""

from rules.tuning.base import Move, Sign, TuningBase, load

__all__ = ["Move", "Sign", "TuningBase", "load"]
