"""Every text of an error stands in the catalogue, and nothing in the catalogue is idle."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest
from werkzeug import exceptions

from schemas import error_texts

ROOT = Path(__file__).resolve().parents[2]
PLACES = [
    path
    for folder in ("schemas", "service/api")
    for path in sorted((ROOT / folder).rglob("*.py"))
    if path.name != "error_texts.py"
]
TEXTS = {name: text for name, text in vars(error_texts).items() if name.isupper()}

TELLING = {
    name
    for name, found in vars(exceptions).items()
    if isinstance(found, type) and issubclass(found, exceptions.HTTPException)
} | {"ValidationError", "MalformedJSONError", "problem", "Either"}
"""What an error is told with, as far as names tell; subclasses are found by their bases."""

PROGRAM = {"service/api/commands.py"}
"""Told on a terminal to who runs the service, not to a caller."""


def texts_of_errors(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Texts written where an error is told: arguments of it, ``error=``, and faults by name."""
    telling = TELLING | {
        node.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef)
        and any(isinstance(base, ast.Name) and base.id in TELLING for base in node.bases)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            called = node.func.attr if isinstance(node.func, ast.Attribute) else ""
            called = node.func.id if isinstance(node.func, ast.Name) else called
            told: list[ast.expr] = [*node.args] if called in telling else []
            told += [k.value for k in node.keywords if k.arg in ("error", "title", "detail")]
        elif isinstance(node, ast.Dict):
            told = [
                value
                for key, value in zip(node.keys, node.values, strict=True)
                if isinstance(value, ast.List) and _name(key) not in ("examples", "enum", "type")
            ]
        elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Subscript):
            told = [node.value] if isinstance(node.value, ast.List) else []
        else:
            told = [node.value] if isinstance(node, ast.DictComp) else []
        for part in told:
            yield from _texts(part)


def _name(key: ast.expr | None) -> object:
    return key.value if isinstance(key, ast.Constant) else None


def _texts(part: ast.expr) -> Iterator[tuple[int, str]]:
    """Words in it, not counting what is said of a field (``metadata``) or handed to ``format``."""
    if isinstance(part, ast.Constant):
        if isinstance(part.value, str) and re.search(r"[a-z]{2,} [a-z]", part.value):
            yield part.lineno, part.value
    elif isinstance(part, ast.JoinedStr):
        words = [str(v.value) for v in part.values if isinstance(v, ast.Constant)]
        if any(re.search("[a-z]{2,}", word) for word in words):
            yield part.lineno, "…".join(words)
    elif isinstance(part, ast.List | ast.Dict | ast.IfExp | ast.BoolOp | ast.BinOp):
        for inner in ast.iter_child_nodes(part):
            if isinstance(inner, ast.expr):
                yield from _texts(inner)


@pytest.mark.parametrize("path", PLACES, ids=lambda path: path.name)
def test_no_error_is_worded_outside_the_catalogue(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    place = path.relative_to(ROOT).as_posix()
    if place not in PROGRAM:
        assert list(texts_of_errors(ast.parse(source))) == []
    for name, text in TEXTS.items():
        assert " " not in text or f'"{text}"' not in source, (name, place)


@pytest.mark.parametrize(
    "line",
    [
        'raise ValidationError("give one.")',
        'raise ValidationError({"a": ["is no lever."]})',
        'raise ValidationError(f"{x} is no lever.", "lever")',
        'raise NotFound(f"There is no {x}.")',
        'problem(404, "There is no such thing.")',
        'field = validate.OneOf([], error="is no sign.")',
        'errors["crew"] = ["someone drives."]',
        'faults = {tank: [f"{boat} has no tank."] for tank in tanks}',
        'class Missing(NotFound): ...\nraise Missing("it is gone")',
    ],
)
def test_a_text_beside_the_catalogue_is_seen(line: str) -> None:
    assert list(texts_of_errors(ast.parse(line)))


def test_every_text_is_used_and_each_stands_once() -> None:
    sources = "\n".join(path.read_text(encoding="utf-8") for path in PLACES)
    idle = [name for name in TEXTS if not re.search(rf"\bsay\.{name}\b", sources)]
    assert idle == []
    assert len(set(TEXTS.values())) == len(TEXTS)


def test_what_is_filled_in_has_a_name() -> None:
    for name, text in TEXTS.items():
        fields = [field for _, field, _, _ in Formatter().parse(text) if field is not None]
        assert all(field.isidentifier() for field in fields), name
