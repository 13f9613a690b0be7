"""``GET /metrics`` for Prometheus: what is asked, how long it takes, what the rules and solvers do.

The use cases know nothing of this; the views tell what came out. With several processes the
figures of all of them are added up, where ``PROMETHEUS_MULTIPROC_DIR`` is set before the start,
as ``deploy/gunicorn.conf.py`` does. A metric that fails is left out: no request fails for it.
"""

from __future__ import annotations

import os
import struct
import time
from collections.abc import Callable, Iterable
from functools import cache, wraps
from typing import ParamSpec

from flask import Flask, Response, g, request
from prometheus_client import CONTENT_TYPE_LATEST, REGISTRY, CollectorRegistry, generate_latest
from prometheus_client.metrics import Counter, Histogram
from prometheus_client.multiprocess import MultiProcessCollector
from werkzeug.exceptions import ServiceUnavailable

from rules.model import Firing, Verdict
from schemas import error_texts as say
from service.advice.answer import Advice
from service.advice.tuning.answer import Tuning
from service.api import metric_files
from service.api.accept import TEXT, offers
from service.api.body import Blueprint
from service.api.logs import LOGGER
from service.bookings.fit import Answer
from service.outings.answer import Outing
from service.outings.setups import Origin

metric_files.share()

_METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")

_SECONDS = Histogram(
    "wavesetup_request_seconds",
    "Time to answer, by the route's pattern; the count is the number of requests.",
    ["method", "route", "status"],
    buckets=(0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0),
)
_VERDICTS = Counter("wavesetup_verdicts", "Answers by their verdict.", ["route", "verdict"])
_FIRINGS = Counter("wavesetup_rule_firings", "How often each rule fired.", ["rule"])
_ROUNDS = Histogram(
    "wavesetup_solver_rounds",
    "Rounds of linearise, search and confirm for one loading plan.",
    buckets=(1, 2, 3, 4, 6, 9, 15),
)
_ITERATIONS = Histogram(
    "wavesetup_equilibrium_iterations",
    "Evaluations of the hull for the attitude that was advised.",
    buckets=(3, 4, 5, 6, 8, 12, 25, 50, 100),
)
_ACTIONS = Counter(
    "wavesetup_tuning_actions", "What to do on the water, and with which lever.", ["action", "move"]
)
_GAPS = Histogram(
    "wavesetup_outing_gap_percent",
    "What a better order of turns could save at most; 0: proved the best.",
    buckets=(0, 0.5, 1, 2, 5, 10, 20),
)
_BOOKINGS = Counter(
    "wavesetup_bookings", "Bookings reckoned: whether they fit, or the first reason.",
    ["fits", "reason"],
)  # fmt: skip


P = ParamSpec("P")
_FAULTS = (OSError, ValueError, LookupError, TypeError, AttributeError, RuntimeError, struct.error)


def _harmless(tell: Callable[P, None]) -> Callable[P, None]:
    @wraps(tell)
    def told_if_possible(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            tell(*args, **kwargs)
        except _FAULTS as error:
            LOGGER.warning("a metric was left out", exc_info=error)

    return told_if_possible


@cache
def _rule(rule_id: str) -> Counter:
    return _FIRINGS.labels(rule_id)


@_harmless
def told(verdict: Verdict, firings: Iterable[Firing]) -> None:
    """A view tells what it answers."""
    _VERDICTS.labels(_route(), verdict.value).inc()
    _fired(firings)


def _fired(firings: Iterable[Firing]) -> None:
    for firing in firings:
        _rule(firing.rule.id).inc()


@_harmless
def advised(found: Advice) -> None:
    """A view tells the advice it answers."""
    told(found.verdict, found.firings)
    _ROUNDS.observe(found.rounds)
    _ITERATIONS.observe(found.at_rest.iterations)


@_harmless
def tuned(found: Tuning) -> None:
    """A view tells the next change it answers."""
    _ACTIONS.labels(found.action.value, found.change.move.name if found.change else "none").inc()
    _fired(found.firings)
    _ITERATIONS.observe(found.attitude.floating.iterations)


@_harmless
def planned(found: Outing) -> None:
    """A view tells the outing it answers: each rider's set-up is a loading plan of its own."""
    turns = {line.turn.rider: line.turn for line in found.lines}.values()
    told(found.verdict, (firing for turn in turns for firing in turn.firings))
    for turn in turns:
        if turn.origin is not Origin.COMPROMISE:
            _ROUNDS.observe(turn.plan.rounds)
        _ITERATIONS.observe(turn.attitude.floating.iterations)
    if found.cost:
        _GAPS.observe(100.0 * max(found.cost - found.bound, 0.0) / found.cost)


@_harmless
def booked(found: Answer) -> None:
    """A view tells a booking that was reckoned, with the advice where that had to be asked."""
    fit = found.fit
    reason = fit.reasons[0].code if fit.reasons else "none"
    _BOOKINGS.labels("yes" if fit.fits else "no", reason).inc()
    if fit.advice is not None:
        advised(fit.advice)


def _route() -> str:
    """The pattern, not the address: no ids in metrics, and a bounded number of series."""
    return "none" if request.url_rule is None else request.url_rule.rule


def _begin() -> None:
    g.begun = time.perf_counter()


def _end(response: Response) -> Response:
    _answered(response.status_code, time.perf_counter() - g.begun)
    return response


@_harmless
def _answered(status: int, seconds: float) -> None:
    method = request.method if request.method in _METHODS else "other"
    _SECONDS.labels(method, _route(), status).observe(seconds)


blueprint = Blueprint("metrics", __name__, description="Operations.")


@blueprint.route("/metrics")
@blueprint.response(200, {"type": "string"}, content_type=TEXT)
@offers(TEXT)
def metrics() -> Response:
    """Figures of all processes in Prometheus' text format."""
    try:
        registry = REGISTRY
        if os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
            registry = CollectorRegistry()
            MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
        return Response(generate_latest(registry), content_type=CONTENT_TYPE_LATEST)
    except _FAULTS as error:
        raise ServiceUnavailable(say.NO_METRICS) from error


def init_app(app: Flask) -> None:
    app.before_request(_begin)
    app.after_request(_end)
