"""The service with addresses at which it hangs, computes, answers much, or tells who asks."""

from __future__ import annotations

import time
from collections.abc import Iterator

from flask import Flask, Response, request

from service import create_app


def application() -> Flask:
    app = create_app()

    @app.get("/hang")
    def hang() -> str:
        while True:
            pass

    @app.get("/compute/<float:seconds>")
    def compute(seconds: float) -> str:
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            pass
        return "computed"

    @app.get("/large")
    def large() -> Response:
        return Response(b"x" * 6_000_000)

    @app.get("/drip")
    def drip() -> Response:
        def lines() -> Iterator[bytes]:
            yield b"first\n"
            time.sleep(1.5)
            yield b"second\n"

        return Response(lines())

    @app.get("/who")
    def who() -> dict[str, object]:
        return {
            "address": request.remote_addr, "root": request.script_root, "scheme": request.scheme,
        }  # fmt: skip

    return app
