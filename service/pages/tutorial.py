"""The ten-minute tutorial. Its steps stand in ``tutorial.yaml``; a test runs every command."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

import yaml

from service.pages.rendering import render

BASE = "http://127.0.0.1:8000"


@dataclass(frozen=True, slots=True)
class Step:
    """One step: what it is about, the command, and what to find in its answer.

    ``shows`` gives, by JSON Pointer or as a line of text, what the answer contains.
    """

    title: str
    text: str
    after: str
    command: str
    shows: tuple[tuple[str, Any], ...]
    lines: tuple[str, ...]
    status: int


@lru_cache(maxsize=1)
def steps() -> tuple[Step, ...]:
    """The steps in order."""
    document = yaml.safe_load(files("service.pages").joinpath("tutorial.yaml").read_text("utf-8"))
    return tuple(
        Step(
            title=raw["title"],
            text=raw["text"].strip(),
            after=raw.get("after", "").strip(),
            command=command(raw["request"]),
            shows=tuple((raw.get("shows") or {}).items()),
            lines=tuple(raw.get("lines") or ()),
            status=raw.get("status", 200),
        )
        for raw in document["steps"]
    )


def command(request: dict[str, Any]) -> str:
    """The request as a command for a POSIX shell."""
    parts = [f"curl -s {BASE}{request['path']}"]
    if "accept" in request:
        parts.append(f"-H 'Accept: {request['accept']}'")
    if "body" in request:
        body = json.dumps(request["body"], ensure_ascii=False, indent=1)
        parts += ["-H 'Content-Type: application/json'", f"-d '{body}'"]
    return " \\\n  ".join(parts)


def page() -> str:
    """The tutorial as a page."""
    written = [
        (step, [(pointer, json.dumps(value, ensure_ascii=False)) for pointer, value in step.shows])
        for step in steps()
    ]
    return render("tutorial.html", steps=written, base=BASE)
