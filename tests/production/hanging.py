"""The service with an address at which it hangs."""

from __future__ import annotations

from flask import Flask

from service import create_app


def application() -> Flask:
    app = create_app()

    @app.get("/hang")
    def hang() -> str:
        while True:
            pass

    return app
