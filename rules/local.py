"""An outfit's own values for some parameters, for its fleet or for one boat, from a file.

The file is YAML::

    fleet:
      speed.start: 17.0
    boats:
      demo-7m:
        off_side_plate.light_crew: 70
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from rules.base import RuleBase, load
from rules.files import read_yaml
from rules.reading import RuleError


class LocalRules:
    """The shipped rule base, and the same with local values for the boats that have some.

    Raises ``RuleError`` at once for a value that does not fit, whichever boat it is for.
    """

    def __init__(
        self,
        fleet: Mapping[str, Any],
        boats: Mapping[str, Mapping[str, Any]],
        under: LocalRules | None = None,
    ) -> None:
        """``under``: other local values, which these go before."""
        below = under.boats if under else {}
        base = under.fleet if under else load()
        self.fleet: RuleBase = base.with_values(fleet) if fleet else base
        self.boats: dict[str, RuleBase] = {
            boat: below.get(boat, base).with_values({**fleet, **boats.get(boat, {})})
            for boat in dict.fromkeys([*below, *(name for name in boats if boats[name])])
        }

    def of(self, boat_id: str) -> RuleBase:
        """The rule base for this boat."""
        return self.boats.get(boat_id, self.fleet)


@cache
def read_local(path: str) -> LocalRules:
    """The local values of the file at ``path``; none where it is empty.

    Raises ``RuleError`` for a file that is not there or not of this form.
    """
    if not path:
        return LocalRules({}, {})
    try:
        found = read_yaml(Path(path)) or {}
    except (OSError, UnicodeDecodeError, yaml.YAMLError) as error:
        raise RuleError(f"local rules {path}: {error}") from None
    if not isinstance(found, Mapping) or set(found) - {"fleet", "boats"}:
        raise RuleError(f"local rules {path}: wants 'fleet' and 'boats', nothing else")
    fleet, boats = found.get("fleet") or {}, found.get("boats") or {}
    if not all(isinstance(part, Mapping) for part in (fleet, boats, *boats.values())):
        raise RuleError(f"local rules {path}: values stand as 'topic.parameter: value'")
    return LocalRules(fleet, boats)
