"""Templates to HTML. Everything is escaped unless a picture of our own making says otherwise."""

from __future__ import annotations

from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from schemas.written import plain
from service.pages import page_texts, texts


def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("service.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["t"] = texts
    environment.globals["pt"] = page_texts
    environment.globals["plain"] = plain
    environment.filters["picture"] = Markup  # text that service.pages.svg wrote
    return environment


_ENVIRONMENT = _environment()


def render(template: str, **context: Any) -> str:
    """The page. A name that the context lacks is an error, not a gap."""
    return _ENVIRONMENT.get_template(template).render(**context)
