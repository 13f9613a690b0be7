"""Set-up advice for surf waves behind a motorboat, as a web service.

``create_app`` is the only place where the parts meet.
"""

from __future__ import annotations

from collections.abc import Mapping

from flask import Flask


def create_app(config: Mapping[str, object] | None = None) -> Flask:
    """The application. ``config`` goes before ``WAVESETUP_…`` of the environment."""
    # Not at the top: each of these imports this package first, for its domain.
    from service.api import (  # noqa: PLC0415
        accept,
        auth,
        blueprints,
        body,
        budget,
        commands,
        errors,
        learning,
        limits,
        logs,
        metrics,
        openapi,
        pages,
        rulebase,
        stored,
        tracing,
    )

    app = Flask(__name__, static_folder=None)
    app.json = body.StrictJSON(app)
    app.config.from_mapping(openapi.SETTINGS)
    app.config.from_mapping(MAX_CONTENT_LENGTH=body.MOST_BYTES)
    app.config.from_prefixed_env("WAVESETUP")
    app.config.from_mapping(config or {})

    # In this order they see a request; an answer passes them the other way round.
    tracing.init_app(app)
    metrics.init_app(app)
    logs.init_app(app)
    budget.init_app(app)
    limits.for_addresses(app)
    store = stored.init_app(app)
    auth.init_app(app)
    limits.for_keys(app)
    accept.init_app(app)
    errors.init_app(app)
    rulebase.init_app(app)
    commands.init_app(app)
    api = openapi.Api(app)
    auth.describe(api)
    boats = learning.CalibratedBoats(store, auth.outfit)
    riders = learning.KnownRiders(store, auth.outfit)
    setups = stored.StoredSetups(store, auth.outfit_of_key, boats, riders, rulebase.rules_of)
    for blueprint in blueprints(boats, riders, setups):
        api.register_blueprint(blueprint)
    pages.init_app(app, boats)
    return app
