"""The field for physical quantities, by itself and wherever it stands."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from marshmallow import Schema, ValidationError, fields

from schemas.advice_request import AdviceRequestSchema
from schemas.fields import Either, Quantity, QuantityByName
from schemas.loading_request import LoadingRequestSchema
from schemas.units import Dimension, System, using
from service.boats.fleet import Fleet


def below(field: Any) -> Iterator[tuple[str, Any]]:
    """The fields within a field or schema, with the step that leads to each."""
    match field:
        case Schema():
            yield from ((f"/{name}", inner) for name, inner in field.fields.items())
        case fields.Nested():
            yield "", field.schema
        case fields.List():
            yield "", field.inner
        case fields.Tuple():
            yield from (("", inner) for inner in field.tuple_fields)
        case QuantityByName():
            yield "", field.value_field
        case Either():
            yield from (("", inner) for inner in field.forms.values())


def quantities(field: Any, path: str = "") -> Iterator[tuple[str, Quantity]]:
    """Every quantity in a schema, with where it stands."""
    if isinstance(field, Quantity):
        yield path, field
    for step, inner in below(field):
        yield from quantities(inner, path + step)


FOUND = [
    *quantities(AdviceRequestSchema(Fleet(()))),
    *quantities(LoadingRequestSchema(Fleet(()))),
]


def test_they_are_found() -> None:
    paths = {path for path, _ in FOUND}
    assert {
        "/crew/mass",
        "/ballast",
        "/angles",
        "/boat/hull/stations/points",
        "/boat/tanks/max_fill",
        "/boat/plates/port/chord",
        "/water/depth",
    } <= paths


@pytest.mark.parametrize(("path", "quantity"), FOUND)
def test_its_examples_are_accepted_in_both_systems(path: str, quantity: Quantity) -> None:
    assert quantity.metadata["examples"]
    for example in quantity.metadata["examples"]:
        for system in System:
            with using(system):
                assert isinstance(quantity.deserialize(example), float)


@pytest.mark.parametrize(("path", "quantity"), FOUND)
def test_the_documented_ends_are_accepted_and_just_beyond_is_not(
    path: str, quantity: Quantity
) -> None:
    low, high = (float(bound) for bound in quantity.bounds)
    with using(System.METRIC):
        quantity.deserialize(low)
        quantity.deserialize(high)
        for beyond in (low - 0.001, high + 0.001, -1e300, 1e300, 10**400):
            with pytest.raises(ValidationError):
                quantity.deserialize(beyond)


MASS = Quantity(Dimension.MASS, 15, 200)


@given(st.floats(15, 200))
def test_what_is_loaded_is_dumped_again(mass: float) -> None:
    class One(Schema):
        mass = Quantity(Dimension.MASS, 0, 1000)

    for system in System:
        with using(system):
            loaded = One().load({"mass": mass})
            assert One().dump(loaded)["mass"] == pytest.approx(mass, rel=4e-16)


def test_no_quantity_is_dumped_as_none() -> None:
    class One(Schema):
        mass = Quantity(Dimension.MASS, 0, 1000, load_default=None)

    assert One().dump(One().load({})) == {"mass": None}


def test_the_error_names_value_range_and_what_is_accepted() -> None:
    with using(System.US), pytest.raises(ValidationError) as caught:
        MASS.deserialize("500 lb")
    (message,) = caught.value.messages
    assert message == (
        '"500 lb" is out of range: give a number in lb, or text such as "82 kg" or "180 lb", '
        "from 33.07 to 440.92 lb."
    )


def test_a_long_value_is_cut_in_the_error() -> None:
    with pytest.raises(ValidationError) as caught:
        MASS.deserialize("9" * 100_000)
    assert len(str(caught.value)) < 250
