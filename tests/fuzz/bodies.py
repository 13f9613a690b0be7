"""Bodies by someone who means no good: valid requests, changed in one place or in all."""

from __future__ import annotations

import json
from typing import Any

from hypothesis import strategies as st

WHOLE: dict[str, Any] = {
    "units": "metric",
    "boat": "demo-7m",
    "crew": [{"mass": 80, "seat": "helm", "name": "Ann", "age": 40, "role": "driver"},
             {"mass": "150 lb", "role": "observer"}, {"mass": 60, "x": 2.0, "y": 0.3}],
    "ballast": {"aft-port": 50, "bow": 20},
    "loads": [{"mass": 30, "x": 1, "y": 0.4, "z": 0.5, "name": "bag", "movable": True}],
    "rider": {"mass": "82 kg", "stance": "goofy", "board": "skim", "level": "expert",
              "wants": ["steeper", "longer"]},
    "water": {"kind": "salt", "temperature": 15, "depth": 6, "distance_to_shore": 90},
    "fuel": 50,
    "surf_side": "port",
}  # fmt: skip

NUMBERS: list[Any] = [
    0, -0.0, -1, 1, 0.1, 99.999, 1e-300, 5e-324, 1e300, 1.7976931348623157e308, -1e300, 2**31,
    2**53, 2**63, 2**64, 10**400, -(10**18), 1e-7, 1.5e1, True, False, None,
]  # fmt: skip
TEXTS: list[Any] = [
    "", " ", "2.5", "82 kg", "82kg", "-82 kg", "1e99 kg", "82 kg lb", "NaN", "Infinity", "nan kg",
    "inf m", "½ kg", "８２ kg", "82 ㎏", "82\u00a0kg", "82 kg\n", "0x52 kg", "1_000 kg", "1,5 m",
    "= 2+2", "%s%n", "' OR 1=1 --", "../../etc/passwd", "{{7*7}}", "${7*7}", "\x00", "\ud800",
    "\udfff kg", "\u202e gk 28", "́" * 200, "9" * 5000, "a" * 100_000, "1e" + "9" * 4000 + " kg",
    "°" * 39,
    "__class__", "constructor", "0001-01-01", "9999-12-31T23:59:59Z", "2024-02-30",
    "goofy ", "GOOFY",
]  # fmt: skip
BIG: list[Any] = [
    [], {}, [[]], [None] * 1000, list(range(20_000)), {str(n): n for n in range(5000)}, [{}] * 500,
    [{"mass": 80}] * 41, [{"mass": 80, "seat": "helm"}] * 40, {"": ""}, {"a" * 5000: 1},
]  # fmt: skip

values = st.one_of(
    st.sampled_from(NUMBERS),
    st.sampled_from(TEXTS),
    st.sampled_from(BIG),
    st.floats(allow_nan=False, allow_infinity=False),
    st.integers(),
    st.text(max_size=40),
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(max_size=10),
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner),
        max_leaves=20,
    ),
)


def paths(value: Any, at: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Every place in a value."""
    found = [at]
    if isinstance(value, dict | list):
        items = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in items:
            found += paths(inner, (*at, key))
    return found


def put(value: Any, at: tuple[str | int, ...], other: Any) -> Any:
    """The value with ``other`` at a place."""
    if not at:
        return other
    copied = dict(value) if isinstance(value, dict) else list(value)
    copied[at[0]] = put(copied[at[0]], at[1:], other)  # type: ignore[index]
    return copied


@st.composite
def changed(draw: st.DrawFn) -> bytes:
    """A valid request with up to three places changed, or a member more."""
    body: Any = WHOLE
    for _ in range(draw(st.integers(1, 3))):
        # Not into what an earlier change put there, which may be very large.
        at = draw(st.sampled_from(paths(WHOLE)))
        try:
            body = put(body, at, draw(values))
        except (KeyError, IndexError, TypeError):
            continue
    if isinstance(body, dict) and draw(st.booleans()):
        body = {**body, draw(st.text(max_size=20)): draw(values)}
    return json.dumps(body).encode()


@st.composite
def other_numbers(draw: st.DrawFn) -> bytes:
    """A valid request with other numbers, many of which are possible."""
    body: Any = WHOLE
    for at in paths(WHOLE):
        was = _at(WHOLE, at)
        if isinstance(was, int | float) and not isinstance(was, bool):
            body = put(body, at, was * draw(st.floats(0.0, 2.0)))
    return json.dumps(body).encode()


def _at(value: Any, at: tuple[str | int, ...]) -> Any:
    for step in at:
        value = value[step]
    return value


RAW = [
    b"", b" ", b"null", b"[]", b'""', b"1", b"{", b"}", b"{}{}", b"{'boat': 1}", b"NaN",
    b"-Infinity",
    b'{"fuel": 1e999}', b'{"fuel": -0}', b'{"fuel": 01}', b'{"fuel": 0.1e-400}', b"\xff\xfe{}",
    b"\xef\xbb\xbf{}", b'{"boat": "\xc0\xaf"}', b'{"boat": "\\ud800"}',
    b'{"boat": "demo-7m", "boat": 1}',
    b'{"fuel": ' + b"9" * 5000 + b"}", b"[" * 1000 + b"]" * 1000, b"[" * 100_000,
    b'{"a":' * 500 + b"1" + b"}" * 500, b'{"crew": [' + b"{}," * 300_000 + b"{}]}",
    b'{"crew": [' + b"1," * 500_000 + b"1]}", b'{"boat": "' + b"a" * 1_000_000 + b'"}',
    b" " * 1_000_000, b"a" * 1_048_577, b'{"\\u0000": "\\u0000"}', b"\x00", b'{"boat": /* */ 1}',
]  # fmt: skip

bodies = st.one_of(
    changed(), changed(), changed(), other_numbers(), st.sampled_from(RAW), st.binary(max_size=200)
)  # fmt: skip
