"""The API reference: a page from the specification, without anything from elsewhere."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from service.pages.rendering import render

METHODS = ("get", "post", "put", "patch", "delete")

Specification = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Member:
    """One member of a form: its name, what type it has, whether it must be there, what it is."""

    name: str
    type: str
    form: str
    required: bool
    says: str


@dataclass(frozen=True, slots=True)
class Operation:
    """One method of one address. ``body`` names the form of the body, ``bodies`` its types."""

    id: str
    method: str
    path: str
    summary: str
    says: str
    body: str
    parameters: tuple[Member, ...]
    answers: tuple[tuple[str, str, str, str], ...]


def page(specification: Specification) -> str:
    """The whole reference."""
    tags = {tag["name"]: tag.get("description", "") for tag in specification.get("tags", [])}
    groups: dict[str, list[Operation]] = {}
    for path, item in specification.get("paths", {}).items():
        shared = item.get("parameters", [])
        for method in METHODS:
            if method in item:
                operation = _operation(specification, path, method, item[method], shared)
                tag = (item[method].get("tags") or [""])[0]
                groups.setdefault(tags.get(tag) or tag, []).append(operation)
    schemas = specification.get("components", {}).get("schemas", {})
    return render(
        "reference.html",
        groups=list(groups.items()),
        forms=[
            (name, schema.get("description", ""), list(members(schema)))
            for name, schema in sorted(schemas.items())
        ],
    )


def _operation(
    specification: Specification, path: str, method: str, item: Mapping[str, Any], shared: Any
) -> Operation:
    content = item.get("requestBody", {}).get("content", {})
    body = next((form_of(media.get("schema", {})) for media in content.values()), "")
    parameters = [resolved(specification, p) for p in (*shared, *item.get("parameters", []))]
    answers = []
    for status, found in sorted(item.get("responses", {}).items()):
        answer = resolved(specification, found)
        media = answer.get("content", {})
        form = next((form_of(m.get("schema", {})) for m in media.values()), "")
        answers.append((status, answer.get("description", ""), ", ".join(media), form))
    return Operation(
        id=f"{method}-{path}".replace("/", "-").replace("{", "").replace("}", ""),
        method=method.upper(),
        path=path,
        summary=item.get("summary", ""),
        says=item.get("description", ""),
        body=body,
        parameters=tuple(
            Member(
                p["name"], type_of(p.get("schema", {})), "", bool(p.get("required")),
                " ".join(filter(None, (p.get("in", ""), p.get("description", "")))),
            )
            for p in parameters
        ),
        answers=tuple(answers),
    )  # fmt: skip


def resolved(specification: Specification, found: Mapping[str, Any]) -> Mapping[str, Any]:
    """What a ``$ref`` within the document points at."""
    while "$ref" in found:
        target: Any = specification
        for step in found["$ref"].removeprefix("#/").split("/"):
            target = target[step]
        found = target
    return found


def form_of(schema: Mapping[str, Any]) -> str:
    """The name of the form that a schema is, or is a list or a choice of; empty for none."""
    if "$ref" in schema:
        return str(schema["$ref"]).rpartition("/")[2]
    for inner in (schema.get("items"), *schema.get("oneOf", ()), *schema.get("anyOf", ()),
                  *schema.get("allOf", ()), schema.get("additionalProperties")):  # fmt: skip
        if isinstance(inner, Mapping) and (found := form_of(inner)):
            return found
    return ""


def members(schema: Mapping[str, Any]) -> Iterator[Member]:
    required = schema.get("required", ())
    for name, inner in schema.get("properties", {}).items():
        says = [inner.get("description", ""), *_bounds(inner)]
        yield Member(
            name, type_of(inner), form_of(inner), name in required, " ".join(filter(None, says))
        )


def _bounds(schema: Mapping[str, Any]) -> Iterator[str]:
    if "minimum" in schema or "maximum" in schema:
        yield f"From {schema.get('minimum', '…')} to {schema.get('maximum', '…')}."
    if "default" in schema:
        yield f"Default: {schema['default']}."
    if schema.get("examples"):
        yield "For example " + ", ".join(str(example) for example in schema["examples"]) + "."


def type_of(schema: Mapping[str, Any]) -> str:
    """A schema's type in a few words."""
    if "$ref" in schema:
        return form_of(schema)
    for joint in ("oneOf", "anyOf", "allOf"):
        if joint in schema:
            return " or ".join(dict.fromkeys(type_of(inner) for inner in schema[joint]))
    if "enum" in schema:
        return " | ".join("null" if word is None else str(word) for word in schema["enum"])
    kinds = schema.get("type", "any")
    kinds = [kinds] if isinstance(kinds, str) else kinds
    return " or ".join(
        f"list of {type_of(schema['items'])}" if kind == "array" and "items" in schema else kind
        for kind in kinds
    )
