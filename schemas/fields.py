"""Fields that marshmallow does not have, or has too lenient for advice people's safety hangs on."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Any

from marshmallow import ValidationError, fields, validate

from schemas import error_texts as say
from schemas import plain, units
from schemas.plain import Told, refused, shown
from schemas.units import Dimension, System

_EXAMPLES: Mapping[Dimension, tuple[str, ...]] = {
    Dimension.MASS: ("82 kg", "180 lb"),
    Dimension.LENGTH: ("1.8 m", "5 ft"),
    Dimension.VOLUME: ("400 L", "120 gal"),
    Dimension.SPEED: ("18 km/h", "11.2 mph"),
    Dimension.TEMPERATURE: ("21 °C", "70 °F"),
    Dimension.TIME: ("12 min",),
    Dimension.FLOW: ("75 L/min", "20 gal/min"),
    Dimension.PERCENT: ("50 %",),
    Dimension.ANGLE: ("20°",),
}


class Quantity(Told):
    """A physical quantity: a number in the request's units, or a text with its own unit.

    Loads to the value inside (SI; a percentage to a fraction). ``minimum`` and ``maximum`` are
    written in the metric unit of the dimension (kg, m, L, km/h, °C, min, L/min, %, °), both
    allowed. The error names the value and the range in the request's own units.
    """

    def __init__(self, dimension: Dimension, minimum: float, maximum: float, **kwargs: Any) -> None:
        self.dimension = dimension
        self.bounds = (Fraction(str(minimum)), Fraction(str(maximum)))
        metric = units.unit(dimension, System.METRIC)
        self._inside = tuple(metric.inward(bound) for bound in self.bounds)
        metadata = dict(kwargs.pop("metadata", {}))
        ranges = " / ".join(dict.fromkeys(self._range(system) for system in System))
        metadata["description"] = f"{metadata.get('description', '')} ({ranges})".strip()
        metadata.setdefault("type", ["number", "string"])
        self.examples = metadata.setdefault("examples", self._examples())
        super().__init__(metadata=metadata, **kwargs)

    def _range(self, system: System) -> str:
        """The range in a system's units, rounded inward: whatever it shows is accepted."""
        unit = units.unit(self.dimension, system)
        low, high = (unit.outward(inside) for inside in self._inside)
        step = Decimal("0.01")
        ends = (
            (Decimal(end.numerator) / Decimal(end.denominator)).quantize(step, rounding)
            for end, rounding in ((low, ROUND_CEILING), (high, ROUND_FLOOR))
        )
        return " to ".join(f"{_trimmed(end):f}" for end in ends) + f" {unit.name}"

    def _examples(self) -> list[str]:
        """Texts that this field takes; the middle of the range where no common one lies in it."""
        common = [
            text
            for text in _EXAMPLES[self.dimension]
            if self._inside[0] <= units.parse(text, self.dimension) <= self._inside[1]
        ]
        middle = float(sum(self.bounds) / 2)
        return common or [f"{middle:g} {units.unit_name(self.dimension, System.METRIC)}"]

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> float:
        system = units.current_system()
        try:
            inside = units.read(value, self.dimension, system)
        except units.UnknownQuantityError:
            words = say.NOT_A_QUANTITY_WITH_UNIT if isinstance(value, str) else say.NOT_A_QUANTITY
            article = "an" if self.dimension is Dimension.ANGLE else "a"
            problem = words.format(value=shown(value), article=article, dimension=self.dimension)
            raise self._refused(problem) from None
        if not self._inside[0] <= inside <= self._inside[1]:
            raise self._refused(say.OUT_OF_RANGE.format(value=shown(value)))
        return float(inside)

    def wanted(self) -> str:
        system = units.current_system()
        return say.GIVE_QUANTITY.format(
            unit=units.unit_name(self.dimension, system),
            examples=" or ".join(f'"{example}"' for example in self.examples),
            range=self._range(system),
        )

    def _refused(self, problem: str) -> ValidationError:
        return ValidationError(say.PROBLEM.format(problem=problem, wanted=self.wanted()))

    def _serialize(self, value: float | None, attr: str | None, obj: Any, **kwargs: Any) -> Any:
        if value is None:
            return None
        return units.express(value, self.dimension, units.current_system())


def _trimmed(number: Decimal) -> Decimal:
    """Without trailing zeros after the point, and without a sign on zero."""
    whole = number.to_integral_value()
    return (whole if number == whole else number.normalize()) + 0


class QuantityByName(plain.Dict):
    """A mapping of free names to quantities; an error stands at its name."""

    def __init__(self, quantity: Quantity, **kwargs: Any) -> None:
        super().__init__(keys=plain.String(), values=quantity, **kwargs)

    def wanted(self) -> str:
        quantity: Any = self.value_field
        return say.GIVE_BY_NAME.format(wanted=quantity.wanted())

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        try:
            return super()._deserialize(value, attr, data, **kwargs)  # type: ignore[no-untyped-call]
        except ValidationError as error:
            # Dict puts "key" and "value" in between, which are no part of what was sent.
            if isinstance(error.messages, dict):
                error.messages = {
                    name: [message for messages in part.values() for message in messages]
                    for name, part in error.messages.items()
                }
            raise


class Choice(Told, fields.Enum[Any]):
    """One of an enumeration's values; nothing else, whatever its type."""

    enum: type[StrEnum]

    def __init__(self, enum: type[StrEnum], **kwargs: Any) -> None:
        super().__init__(enum, by_value=fields.String(), **kwargs)

    def wanted(self) -> str:
        return say.GIVE_ONE_OF.format(choices=", ".join(self.enum))

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        if not isinstance(value, str) or value not in list(self.enum):
            choices = ", ".join(self.enum)
            raise ValidationError(say.NOT_ONE_OF.format(value=shown(value), choices=choices))
        return self.enum(value)


class Flag(plain.Boolean):
    """``true`` or ``false``; not 1, not "yes"."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> bool:
        if not isinstance(value, bool):
            raise self.make_error("invalid")
        return value


class Count(Told, fields.Integer):
    """A whole number within ``minimum … maximum``."""

    def __init__(self, minimum: int, maximum: int, **kwargs: Any) -> None:
        self.minimum, self.maximum = minimum, maximum
        super().__init__(
            strict=True,
            validate=validate.Range(
                minimum,
                maximum,
                error=say.COUNT_OUT_OF_RANGE.format(input="{input}", wanted=self.wanted()),
            ),
            **kwargs,
        )

    def wanted(self) -> str:
        return say.GIVE_WHOLE_NUMBER.format(least=self.minimum, most=self.maximum)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> int:
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or value % 1 != 0  # 8.0 is a whole number in JSON; infinity and NaN end here
        ):
            raise ValidationError(
                say.NOT_A_WHOLE_NUMBER.format(value=shown(value), wanted=self.wanted())
            )
        return int(value)


class CountInWords(Count):
    """A whole number as a query parameter has it, in digits."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> int:
        digits = isinstance(value, str) and value.isascii() and value.isdecimal()
        return super()._deserialize(
            int(value) if digits and len(value) < 10 else value, attr, data, **kwargs
        )


class Age(Told, fields.Float):
    """Years, 0 to 120; a number, not text."""

    says = say.AGE_FORM

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(metadata={"description": "Years.", "minimum": 0, "maximum": 120}, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> float:
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not 0 <= value <= 120:
            raise refused(value, self.wanted())
        return float(value)


class Identifier(plain.String):
    """A name for use in addresses and keys: letters, digits, ``. _ -``; at most 64."""

    says = say.IDENTIFIER_FORM

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            validate=plain.Regexp(
                r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$",
                error=say.IDENTIFIER_FORM,
            ),
            **kwargs,
        )


class Text(plain.String):
    """One line of printable text, at most ``longest`` characters."""

    def __init__(self, longest: int = 80, **kwargs: Any) -> None:
        super().__init__(
            validate=[plain.Length(1, longest), _printable],
            **kwargs,
        )


class Either(Told):
    """One of several forms, told apart by the JSON type of the value.

    ``forms`` maps the Python type of the parsed JSON (``str``, ``int``, ``list``, ``dict``) to
    the field that loads it. ``message`` says what is accepted.
    """

    def __init__(
        self, forms: Mapping[type, fields.Field[Any]], message: str, **kwargs: Any
    ) -> None:
        self.forms = dict(forms)
        self.message = message
        super().__init__(**kwargs)

    def wanted(self) -> str:
        return self.message

    def _bind_to_schema(self, field_name: str, parent: Any) -> None:
        super()._bind_to_schema(field_name, parent)
        self.forms = {kind: copy.deepcopy(form) for kind, form in self.forms.items()}
        for form in self.forms.values():
            form._bind_to_schema(field_name, self)  # noqa: SLF001  # as marshmallow's List does

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        form = self.forms.get(type(value))
        if form is None:
            raise self.make_error("invalid")
        return form.deserialize(value, attr, data, **kwargs)


_JOINERS = str.maketrans("", "", "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}")


def is_printable(text: str) -> bool:
    """Whether a text can be printed in one line; names in some scripts need joiners in them."""
    visible = text.translate(_JOINERS)
    # Line breaks and direction marks could rewrite a card for the helm.
    return visible.isprintable() and bool(visible or not text)


def _printable(text: str) -> None:
    if not is_printable(text):
        raise refused(text, say.ONE_LINE)
