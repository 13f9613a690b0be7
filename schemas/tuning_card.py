"""Three lines a driver can take in at a glance: do this, look for that, if not then.

Made from the answer that is already written, so that card and JSON can never say two things.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from schemas.tuning_answer import lower
from schemas.wrapping import wrapped

WIDTH = 78
LABEL = 8

Answer = Mapping[str, Any]


def tuning_card(answer: Answer) -> str:
    """The card for one answer of ``POST /v1/tuning``; a line wraps where it must."""
    match answer["action"]:
        case "change":
            lines = _change(answer)
        case "stop":
            lines = _stop(answer)
        case "ask":
            lines = _ask(answer)
        case _:
            lines = [
                ("LEAVE", answer["message"]),
                ("LOOK", "keep this speed by GPS, this line, these seats"),
                ("IF NOT", "say what is seen, before anything is moved"),
            ]
    return "\n".join(line for label, text in lines for line in _line(label, text)) + "\n"


def _change(answer: Answer) -> list[tuple[str, str]]:
    change = answer["change"]
    after = change["expect"]["after"]
    wait = f"after 20 to {after['value']:.0f} {after['unit']}"
    if once := change["expect"]["once"]:
        wait = f"{wait} {once}"
    return [
        ("DO", answer["message"]),
        ("LOOK", f"{change['expect']['gone'] or change['expect']['look']} ({wait})"),
        ("UNDO IF", f"{change['wrong_if'].partition(';')[0]}: {lower(change['undo'])}"),
    ]


def _stop(answer: Answer) -> list[tuple[str, str]]:
    first = next(c for c in answer["cautions"] if c["severity"] == "danger")
    # The sign that stopped it; a boat stopped for its load was stopped by none.
    asked = {fact for reason in answer["reasons"] for fact in reason["because"]}
    gone = [sign["gone"] for sign in answer["seen"] if f"seen.{sign['sign']}" in asked]
    if not first["rule"].startswith("tuning_"):
        gone = []
    return [
        ("STOP", first["text"]),
        ("DO", first["action"]),
        ("GO ON", f"only when {gone[0]}" if gone else "only when that is put right"),
    ]


def _ask(answer: Answer) -> list[tuple[str, str]]:
    first, second = answer["question"]["signs"]
    return [
        ("WHICH", "change nothing yet; which of the two is it?"),
        ("THIS", f"{first['sign']}: {lower(first['says'])}"),
        ("OR THIS", f"{second['sign']}: {lower(second['says'])}"),
    ]


def _line(label: str, text: str) -> list[str]:
    return wrapped(text, WIDTH, f"{label:<{LABEL}}", " " * LABEL)
