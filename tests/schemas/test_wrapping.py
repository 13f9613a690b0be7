"""Lines keep a number with its unit, and an id whole."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas.wrapping import wrapped

SCHEMAS = Path(__file__).resolve().parents[2] / "schemas"
WORDS = st.lists(
    st.sampled_from(["pump", "mid-starboard", "90 to", "0 %", "0.43 m", "17 km/h", "to", "a"]),
    min_size=1,
    max_size=60,
)


@given(words=WORDS, width=st.integers(30, 100))
def test_no_line_begins_with_a_unit_or_within_an_id(words: list[str], width: int) -> None:
    text = " ".join(words)
    lines = wrapped(text, width, "DO  ", "    ")
    assert all(len(line) <= width for line in lines)
    assert " ".join(line[4:] for line in lines) == text
    for line in lines[1:]:
        assert not re.match(r"    (%|m\b|km/h|starboard)", line)


def test_a_unit_goes_to_the_next_line_with_its_number() -> None:
    assert wrapped("lowest side 0.43 m", 16) == ["lowest side", "0.43 m"]


@pytest.mark.parametrize("path", sorted(SCHEMAS.glob("*.py")), ids=lambda path: path.name)
def test_nothing_else_wraps_text(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    imported = {
        name.name for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names
    }
    assert path.name == "wrapping.py" or "textwrap" not in imported
