"""The rule base: trade practice as data, and the engine that runs it.

Each ``*.yaml`` file here is one topic with its parameters and its rules; ``facts.yaml`` says
what a rule may ask. ``base`` reads them, ``engine`` runs them, ``accounts`` adds them up.
"""

from rules.base import RuleBase, load

__all__ = ["RuleBase", "load"]
