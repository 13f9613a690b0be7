"""The queue and its processes, on work of the tests' own."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select, update

from service.jobs import queue, worker
from service.jobs.queue import Answer, QueueFullError, State, Task
from service.jobs.worker import Report, Worker
from service.outfits.demo import DEMO
from service.storage import Store
from service.storage.documents import NotStoredError
from service.storage.tables import Job, now
from tests import stores

pytestmark = pytest.mark.keeps


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with stores.fresh(tmp_path) as url:
        store = Store(url)
        yield store
        store.close()


def put(store: Store, kind: str = "echo", payer: str = "ann", **asked: Any) -> str:
    with store.writing() as session:
        return queue.put(session, kind, asked, payer=payer, outfit=None, price=0.1).id


def job(store: Store, job_id: str) -> Job:
    with store.reading() as session:
        return session.scalars(select(Job).where(Job.id == job_id)).one()


def perform(task: Task, report: Report) -> Answer:
    match task.kind:
        case "die":
            os.kill(os.getpid(), signal.SIGKILL)
        case "die once" if task.attempt == 1:
            os.kill(os.getpid(), signal.SIGKILL)
        case "raise":
            raise RuntimeError("the secret of the house")
        case "spin":
            while True:
                pass
        case "sleep":
            time.sleep(60.0)
    report(1, 2)
    report(2, 2)
    return Answer({"said": task.request["say"]}, good=task.kind != "refuse")


def work(store: Store, until: Any, processes: int = 1, seconds: float = 20.0) -> Worker:
    """A worker at work in this process until something holds."""
    at_work = Worker(store, perform, processes)
    give_up = time.monotonic() + seconds
    while not until() and time.monotonic() < give_up:
        at_work.step()
        time.sleep(0.02)
    assert until()
    return at_work


def end(store: Store, job_id: str) -> Job:
    work(store, lambda: not State(job(store, job_id).state).is_open).stop()
    return job(store, job_id)


def test_a_job_is_done_and_says_how_far_it_is(store: Store) -> None:
    found = end(store, put(store, say="hello"))
    assert (found.state, found.answer, found.attempts) == (State.DONE, {"said": "hello"}, 1)
    assert (found.done, found.total) == (2, 2)
    assert found.request is None
    assert found.started is not None
    assert found.ended is not None
    assert found.created <= found.started <= found.ended < found.expires


def test_a_bad_answer_is_a_failure_with_its_answer(store: Store) -> None:
    found = end(store, put(store, "refuse", say="no"))
    assert (found.state, found.answer) == (State.FAILED, {"said": "no"})


def test_one_whose_process_dies_is_done_once_more(store: Store) -> None:
    found = end(store, put(store, "die once", say="again"))
    assert (found.state, found.answer, found.attempts) == (State.DONE, {"said": "again"}, 2)


def test_and_then_says_truly_that_it_failed(store: Store) -> None:
    found = end(store, put(store, "die", say=""))
    assert (found.state, found.answer, found.attempts) == (State.FAILED, None, 2)
    assert found.fault == worker.DIED.format(attempts=2, signal=9)


def test_a_fault_of_the_program_is_told_without_its_words(store: Store) -> None:
    found = end(store, put(store, "raise", say=""))
    assert (found.state, found.fault, found.attempts) == (State.FAILED, worker.BROKEN, 1)


def test_one_that_computes_too_long_is_stopped_by_the_kernel(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker, "LEAST_SECONDS", 0)
    monkeypatch.setattr(worker, "OVER_PRICE", 10)
    found = end(store, put(store, "spin", say=""))
    assert (found.state, found.fault) == (State.FAILED, worker.TOO_LONG.format(seconds=1))


def test_a_cancelled_job_is_killed(store: Store) -> None:
    job_id = put(store, "sleep", say="")
    at_work = work(store, lambda: job(store, job_id).state == State.RUNNING)
    (pid,) = at_work._children
    with store.writing() as session:
        queue.cancel(session, job_id, None)
    until = time.monotonic() + 10.0
    while at_work._children and time.monotonic() < until:
        at_work.step()
        time.sleep(0.02)
    assert not at_work._children
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)
    found = job(store, job_id)
    assert (found.state, found.answer, found.request) == (State.CANCELLED, None, None)
    with store.writing() as session:  # once it has ended it is forgotten
        queue.cancel(session, job_id, None)
    with store.reading() as session, pytest.raises(NotStoredError):
        queue.find(session, job_id, None)


def supervisor_at_work_on(store: Store, job_id: str) -> int:
    """The process id of a supervisor, in a process of its own, that has begun the job."""
    supervisor = os.fork()
    if not supervisor:
        Worker(store, perform).run()
        os._exit(0)
    until = time.monotonic() + 20.0
    while job(store, job_id).state != State.RUNNING and time.monotonic() < until:
        time.sleep(0.02)
    return supervisor


def test_a_job_whose_worker_was_killed_is_done_by_the_next(store: Store) -> None:
    """The supervisor is killed with SIGKILL, and its child ends with it."""
    job_id = put(store, "sleep", say="")
    supervisor = supervisor_at_work_on(store, job_id)
    os.kill(supervisor, signal.SIGKILL)
    os.waitpid(supervisor, 0)
    with store.writing() as session:
        session.execute(update(Job).values(kind="echo", request={"say": "after all"}))
    found = end(store, job_id)
    assert (found.state, found.answer) == (State.DONE, {"said": "after all"})
    assert found.attempts == 2


def test_a_worker_that_is_stopped_gives_its_jobs_back(store: Store) -> None:
    job_id = put(store, "sleep", say="")
    supervisor = supervisor_at_work_on(store, job_id)
    os.kill(supervisor, signal.SIGTERM)
    assert os.waitpid(supervisor, 0)[1] == 0
    work(store, lambda: job(store, job_id).attempts == 2).stop()


def test_whoever_has_least_running_is_next(store: Store) -> None:
    first, second = (put(store, "sleep", say="") for _ in range(2))
    other = put(store, "sleep", payer="bob", say="")
    at_work = work(store, lambda: job(store, other).state == State.RUNNING, processes=2)
    assert job(store, first).state == State.RUNNING
    assert job(store, second).state == State.QUEUED
    at_work.stop()


def test_nobody_fills_the_queue(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(queue.MOST_OPEN):
        put(store)
    with pytest.raises(QueueFullError) as full:
        put(store)
    assert full.value.of_payer
    put(store, payer="bob")
    monkeypatch.setattr(queue, "MOST_IN_ALL", queue.MOST_OPEN + 1)
    with pytest.raises(QueueFullError) as full:
        put(store, payer="cleo")
    assert not full.value.of_payer


def test_a_job_is_its_outfit_s_and_without_one_whoever_knows_the_id(store: Store) -> None:
    with store.writing() as session:
        owned = queue.put(session, "echo", {}, payer="x", outfit=DEMO, price=1.0).id
        free = queue.put(session, "echo", {}, payer="x", outfit=None, price=1.0).id
    with store.reading() as session:
        assert queue.find(session, owned, DEMO).id == owned
        assert queue.find(session, free, None).id == queue.find(session, free, DEMO).id == free
        for other in (None, "another"):
            with pytest.raises(NotStoredError):
                queue.find(session, owned, other)


def test_what_is_over_is_forgotten(store: Store) -> None:
    job_id = put(store, say="x")
    with store.writing() as session:
        session.execute(update(Job).values(expires=now()))
    with store.reading() as session, pytest.raises(NotStoredError):
        queue.find(session, job_id, None)
    assert queue.take(store) is None
    queue.sweep(store)
    with store.reading() as session:
        assert session.scalars(select(Job)).all() == []
