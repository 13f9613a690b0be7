"""The processes that do the jobs: one supervisor, and below it a process for each job.

A child is forked from a supervisor that has everything loaded, so it is ready in a moment and gives
its memory back when it ends. It can be killed at any point, by the kernel too: its processor time
is limited there, so that also a call that never comes back from C ends. What it did counts once it
is in the store, and not before.
"""

from __future__ import annotations

import contextlib
import logging
import os
import resource
import signal
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from types import FrameType

from sqlalchemy.exc import SQLAlchemyError

from service.jobs import queue
from service.jobs.queue import Answer, Task
from service.storage import Store, claims

Report = Callable[[int, int], None]
"""Told how many are done, and of how many."""
Perform = Callable[[Task, Report], Answer]
"""Does a task. Whatever it raises is a fault of the program."""

TICK = 0.1
"""Seconds between two looks at the children and at the queue."""
LOOK_ROUND = 2.0
"""Seconds between two looks for jobs that were left by others."""
SWEEP = 300.0
LEAST_SECONDS = 120
OVER_PRICE = 10
"""A job may take so many times its price, and LEAST_SECONDS, of processor time."""
NICENESS = 10
"""Whoever waits for an answer at once goes before."""
REPORT_EVERY = 1.0

TOO_LONG = "It took more than {seconds} s of processor time and was stopped."
DIED = "The process that worked on it ended {attempts} times without an answer (signal {signal})."
GONE = "The worker that had it ended {attempts} times before it was done."
BROKEN = "The program failed at it; its log says where."

_LOG = logging.getLogger("wavesetup")


@dataclass(frozen=True, slots=True)
class _Child:
    task: Task
    held: claims.Claim


class Worker:
    """Does the jobs of ``store`` by ``perform``, so many at once as ``processes``."""

    def __init__(self, store: Store, perform: Perform, processes: int = 1) -> None:
        self._store, self._perform, self._processes = store, perform, processes
        self._children: dict[int, _Child] = {}
        self._stopped = False
        self._parent, self._alive = os.pipe()
        self._swept = self._looked = float("-inf")

    def run(self) -> None:
        """Works until SIGTERM or SIGINT, or until the process that started it has ended.

        Jobs at work are given back: another worker, or the next one, does them again.
        """
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._on_signal)
        started_by = os.getppid()
        while not self._stopped and os.getppid() == started_by:
            try:
                self.step()
            except SQLAlchemyError:
                _LOG.warning("jobs: the store does not answer")
                time.sleep(1.0)
            time.sleep(TICK)
        self.stop()

    def stop(self) -> None:
        """Kills the children; their jobs are left to the next worker."""
        for pid in self._children:
            os.kill(pid, signal.SIGKILL)
        for pid, child in self._children.items():
            os.waitpid(pid, 0)
            child.held.release()
        self._children.clear()

    def step(self) -> None:
        """Looks after the children once, and starts what there is room for."""
        self._reap()
        for pid, child in self._children.items():
            if not queue.goes_on(self._store, child.task):
                os.kill(pid, signal.SIGKILL)
        at = time.monotonic()
        if at - self._looked >= LOOK_ROUND:
            self._looked = at
            own = {child.task.id for child in self._children.values()}
            queue.recover(self._store, GONE.format(attempts=queue.MOST_ATTEMPTS), own)
        if at - self._swept >= SWEEP:
            self._swept = at
            queue.sweep(self._store)
        while len(self._children) < self._processes and self._start():
            pass

    def _start(self) -> bool:
        taken = queue.take(self._store)
        if taken is None:
            return False
        task, held = taken
        pid = os.fork()
        if not pid:
            self._child(task)
        self._children[pid] = _Child(task, held)
        return True

    def _child(self, task: Task) -> None:
        """Does the task and ends; never returns."""
        code = 1
        try:
            signal.signal(signal.SIGTERM, signal.SIG_DFL)
            signal.signal(signal.SIGINT, signal.SIG_IGN)
            os.close(self._alive)
            threading.Thread(target=self._end_with_parent, daemon=True).start()
            limit = _limit(task)
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
            resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
            os.nice(NICENESS)
            self._do(task)
            code = 0
        except BaseException:  # noqa: BLE001  # whatever it is, the parent reports it
            _LOG.exception("job failed")
        finally:
            os._exit(code)

    def _do(self, task: Task) -> None:
        told = 0.0

        def report(done: int, total: int) -> None:
            nonlocal told
            if time.monotonic() - told >= REPORT_EVERY or done == total:
                told = time.monotonic()
                queue.progress(self._store, task, done, total)

        try:
            answer = self._perform(task, report)
        except Exception:  # noqa: BLE001  # whatever it is, the job says so
            _LOG.exception("job failed", extra={"fields": {"kind": task.kind}})
            queue.fail(self._store, task, BROKEN)
            return
        queue.finish(self._store, task, answer)

    def _end_with_parent(self) -> None:
        with contextlib.suppress(OSError):
            os.read(self._parent, 1)  # comes back when the supervisor's end is closed
        os._exit(1)

    def _reap(self) -> None:
        for pid, child in list(self._children.items()):
            ended, status, used = os.wait4(pid, os.WNOHANG)
            if not ended:
                continue
            del self._children[pid]
            by = os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0
            spent = used.ru_utime + used.ru_stime
            fields = {"kind": child.task.kind, "price": child.task.price, "spent": round(spent, 3)}
            _LOG.info("job ended", extra={"fields": {**fields, "signal": by}})
            try:
                self._settle(child.task, by)
            finally:
                child.held.release()

    def _settle(self, task: Task, by: int) -> None:
        """Of one that ended without an answer; the others are settled already."""
        if not queue.goes_on(self._store, task):
            return
        if by == signal.SIGXCPU:
            queue.fail(self._store, task, TOO_LONG.format(seconds=_limit(task)))
        else:
            fault = DIED.format(attempts=queue.MOST_ATTEMPTS, signal=by)
            queue.died(self._store, task, fault)

    def _on_signal(self, _number: int, _frame: FrameType | None) -> None:
        self._stopped = True


def _limit(task: Task) -> int:
    return LEAST_SECONDS + round(OVER_PRICE * task.price)
