"""Which rules fired in the runs that an outfit keeps, and which of them were overridden."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import delete, func, insert, select
from sqlalchemy.orm import Session

from service.storage.tables import Document, RunRule, now

LAST_REASONS = 5


@dataclass(frozen=True, slots=True)
class Overridden:
    """One run in which a rule was not followed."""

    run: str
    at: datetime
    reason: str


@dataclass(frozen=True, slots=True)
class Feedback:
    """How often a rule fired, how often it was overridden, and the last reasons, newest first."""

    fired: int
    overridden: int
    last: tuple[Overridden, ...]


def note(session: Session, outfit: str, run: str, answer: Mapping[str, Any]) -> None:
    """The rules behind what was answered in a run, its advice or a change; each counts once."""
    mine = select(RunRule.rule).where(RunRule.outfit_id == outfit, RunRule.run_id == run)
    known = set(session.scalars(mine))
    rules = dict.fromkeys(reason["rule"] for reason in answer.get("reasons", ()))
    fired = [
        {"outfit_id": outfit, "run_id": run, "rule": rule} for rule in rules if rule not in known
    ]
    if fired:
        session.execute(insert(RunRule), fired)


def override(session: Session, outfit: str, run: str, document: Document) -> None:
    """What the run's document says was overridden, in the place of what it said before."""
    said = {entry["rule"]: entry["reason"] for entry in document.get("overridden") or ()}
    mine = select(RunRule).where(RunRule.outfit_id == outfit, RunRule.run_id == run)
    for row in session.scalars(mine):
        reason = said.get(row.rule)
        if reason != row.reason:
            row.reason, row.overridden = reason, None if reason is None else now()
    session.flush()


def forget(session: Session, outfit: str, run: str) -> None:
    """The run is deleted, or what it says about a person: it counts no more."""
    session.execute(delete(RunRule).where(RunRule.outfit_id == outfit, RunRule.run_id == run))


def of_rule(session: Session, outfit: str, rule: str) -> Feedback:
    """What the outfit's runs say of a rule."""
    mine = (RunRule.outfit_id == outfit, RunRule.rule == rule)
    fired, overridden = session.execute(
        select(func.count(), func.count(RunRule.overridden)).where(*mine)
    ).one()
    last = session.execute(
        select(RunRule.run_id, RunRule.overridden, RunRule.reason)
        .where(*mine, RunRule.overridden.is_not(None))
        .order_by(RunRule.overridden.desc())
        .limit(LAST_REASONS)
    )
    told = (
        Overridden(run, at, reason)
        for run, at, reason in last
        if at is not None and reason is not None
    )
    return Feedback(fired, overridden, tuple(told))
