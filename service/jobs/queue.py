"""The queue: jobs in the store, each with its state, its progress and its answer.

A job is put in together with whatever else its unit of work stores, and is taken by whoever gets
the claim to it, which ends with the process (:mod:`service.storage.claims`). So one whose worker
was killed is found at once and by no clock: it says that it runs, and nobody has the claim.
"""

from __future__ import annotations

import secrets
from collections import Counter
from collections.abc import Container
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum

from sqlalchemy import ColumnElement, delete, func, select, update
from sqlalchemy.orm import Session

from service.storage import Store, claims
from service.storage.documents import NotStoredError
from service.storage.tables import Document, Job, now

KEPT_FOR = timedelta(hours=1)
"""How long a job waits at most, and how long its answer is kept."""
MOST_ATTEMPTS = 2
"""A job whose process died is done once more: it may have been the machine's fault."""
MOST_OPEN = 8
"""Of one payer."""
MOST_IN_ALL = 1000
LOOKED_AT = 200
"""So many of those that wait are looked at for whose turn it is."""


class State(StrEnum):
    """How far a job is. ``failed`` has an answer that is an error, or a fault."""

    QUEUED = "queued"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"

    @property
    def is_open(self) -> bool:
        return self in OPEN


OPEN = (State.QUEUED, State.RUNNING)


class QueueFullError(Exception):
    """So many jobs wait already: of this payer, or (``of_payer`` false) of all together."""

    def __init__(self, most: int, of_payer: bool) -> None:
        self.most, self.of_payer = most, of_payer
        super().__init__(f"{most} jobs are open")


@dataclass(frozen=True, slots=True)
class Task:
    """A job that this process has taken; ``attempt`` counts from 1."""

    id: str
    kind: str
    request: Document
    price: float
    attempt: int


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of a task, and whether it is what was asked for."""

    document: Document
    good: bool = True


def put(
    session: Session, kind: str, request: Document, *, payer: str, outfit: str | None, price: float
) -> Job:
    """A new job at the end of the queue. :class:`QueueFullError` where too many are open.

    ``price`` in seconds of processor time.
    """
    counted = select(Job.payer, func.count()).where(Job.state.in_(OPEN)).group_by(Job.payer)
    held = {who: count for who, count in session.execute(counted)}  # noqa: C416  # rows
    if held.get(payer, 0) >= MOST_OPEN:
        raise QueueFullError(MOST_OPEN, of_payer=True)
    if sum(held.values()) >= MOST_IN_ALL:
        raise QueueFullError(MOST_IN_ALL, of_payer=False)
    at = now()
    job = Job(
        id=secrets.token_urlsafe(24), outfit_id=outfit, payer=payer, kind=kind, price=price,
        state=State.QUEUED, request=request, created=at, expires=at + KEPT_FOR,
    )  # fmt: skip
    session.add(job)
    session.flush()
    return job


def find(session: Session, job_id: str, outfit: str | None) -> Job:
    """The job, or :class:`NotStoredError`, also for one of another outfit."""
    job = session.scalar(select(Job).where(Job.id == job_id, Job.expires > now()))
    if job is None or job.outfit_id not in (None, outfit):
        raise NotStoredError("job", job_id)
    return job


def cancel(session: Session, job_id: str, outfit: str | None) -> None:
    """Stops an open job; one that has ended is forgotten. :class:`NotStoredError` as for find.

    The process that works on it is killed by its worker within moments.
    """
    job = find(session, job_id, outfit)
    if not _end(session, Job.id == job.id, state=State.CANCELLED):
        session.execute(delete(Job).where(Job.id == job.id))


def take(store: Store) -> tuple[Task, claims.Claim] | None:
    """The next job with the claim to it: of those who wait, of whoever has least running.

    ``None`` where nothing waits.
    """
    with store.reading() as session:
        running = Counter(session.scalars(select(Job.payer).where(Job.state == State.RUNNING)))
        waiting = session.execute(
            select(Job.id, Job.payer)
            .where(Job.state == State.QUEUED, Job.expires > now())
            .order_by(Job.number)
            .limit(LOOKED_AT)
        ).all()
    for job_id, _ in sorted(waiting, key=lambda job: running[job.payer]):
        held = claims.claim(store, f"job {job_id}")
        if held is None:
            continue
        with store.writing() as session:
            job = session.scalar(
                update(Job)
                .where(Job.id == job_id, Job.state == State.QUEUED)
                .values(state=State.RUNNING, started=now(), attempts=Job.attempts + 1, done=0)
                .returning(Job)
            )
            if job is not None:
                asked = job.request or {}
                return Task(job.id, job.kind, asked, job.price, job.attempts), held
        held.release()
    return None


def goes_on(store: Store, task: Task) -> bool:
    """Whether the task is still to be done: not once it was cancelled."""
    with store.connected() as connection:
        found = connection.execute(select(Job.id).where(*_at(task))).first()
    return found is not None


def progress(store: Store, task: Task, done: int, total: int) -> None:
    """Notes how far the task is; left out where the store is busy."""
    store.attempt(update(Job).where(*_at(task)).values(done=done, total=total))


def finish(store: Store, task: Task, answer: Answer) -> None:
    """Keeps the answer, unless the job was cancelled meanwhile or is someone else's by now."""
    state = State.DONE if answer.good else State.FAILED
    with store.writing() as session:
        _end(session, *_at(task), state=state, answer=answer.document)


def fail(store: Store, task: Task, fault: str) -> None:
    """It came to nothing, and ``fault`` says why."""
    with store.writing() as session:
        _end(session, *_at(task), state=State.FAILED, fault=fault)


def died(store: Store, task: Task, fault: str) -> None:
    """The process that worked on it ended without an answer: once more, or never."""
    if task.attempt >= MOST_ATTEMPTS:
        fail(store, task, fault)
        return
    with store.writing() as session:
        session.execute(update(Job).where(*_at(task)).values(state=State.QUEUED, started=None))


def recover(store: Store, fault: str, own: Container[str]) -> None:
    """Finds the jobs that say they run and whose worker is gone, on whatever machine it was.

    ``own`` are those that the caller itself has at work.
    """
    with store.reading() as session:
        running = session.scalars(select(Job).where(Job.state == State.RUNNING)).all()
    for job in running:
        held = None if job.id in own else claims.claim(store, f"job {job.id}")
        if held is not None:
            try:
                died(store, Task(job.id, job.kind, {}, job.price, job.attempts), fault)
            finally:
                held.release()


def sweep(store: Store) -> None:
    """Forgets what nobody may ask for any more."""
    with store.writing() as session:
        session.execute(delete(Job).where(Job.expires <= now(), Job.state != State.RUNNING))


def _at(task: Task) -> tuple[ColumnElement[bool], ...]:
    """The job while this attempt at it is the one that counts."""
    return Job.id == task.id, Job.state == State.RUNNING, Job.attempts == task.attempt


def _end(
    session: Session, *of: ColumnElement[bool], state: State, answer: Document | None = None,
    fault: str | None = None,
) -> bool:  # fmt: skip
    """Ends an open job; what was asked is forgotten with it. Whether there was one."""
    at = now()
    ended = session.execute(
        update(Job)
        .where(*of, Job.state.in_(OPEN))
        .values(
            state=state, answer=answer, fault=fault, request=None, ended=at, expires=at + KEPT_FOR
        )
        .returning(Job.id)
    ).first()
    return ended is not None
