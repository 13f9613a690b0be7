"""What the reader of an answer is told first while its verdict is not to go.

The numbers stay in the answer, for they explain the verdict; this says that they are not to be
set up, and what has to change before. Card, page and JSON all say these words.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from rules.base import RuleBase
from rules.model import Verdict

SET_NOTHING = "Do not use these settings or fill any tank."
FIRST = "First:"
THEN = "Fix this, then run it again."


def not_yet(first: Iterable[str]) -> dict[str, Any]:
    """What to do ``first``, each once, and the whole as a text for people."""
    steps = list(dict.fromkeys(first))
    told = [FIRST, *steps] if steps else []
    return {"text": " ".join([SET_NOTHING, *told, THEN]), "first": steps}


def forbids(rule: str, base: RuleBase) -> bool:
    """Whether it is this rule that says not to go."""
    return base.rules[rule].verdict is Verdict.DO_NOT_GO
