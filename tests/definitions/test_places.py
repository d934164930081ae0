"""The position index agrees with the standard TOML parser about every key and value."""

import json
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequencer.definitions import shipped_plans
from sequencer.definitions.places import Path, Places

EVERYTHING = """\
# a comment with [brackets] = and "quotes"
format = 1
"quoted key" = 'literal'
dotted.name.deep = 3   # after

[model]
name = "a \\"quoted\\" word # no comment"
many = [1, 2,  # in between
  [3, "4 ]"], ]
empty = []
inline = { a = 1, "b c" = { d = [ { e = "x" } ] }, none = {} }
text = \"\"\"
several
= lines [x]\"\"\"\"
literal = '''it''s'''
when = 2026-05-02 10:00:00Z

[[unit]]
label = "A"
[[unit.remark]]
for = "x"
[[unit.remark]]
for = "y"
[unit.bought]
price = "1 EUR"

[[unit]]
label = "B"
[[unit.remark]]
for = "z"

[port.B-1]
baud = 9600
"""


def leaves(data: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    if isinstance(data, dict):
        for key, value in data.items():
            yield from leaves(value, (*path, key))
    elif isinstance(data, list):
        for index, value in enumerate(data):
            yield from leaves(value, (*path, index))
    else:
        yield path, data


def check(text: str) -> int:
    """Every leaf's span parses to the leaf's value; returns how many there were."""
    places = Places(text)
    found = dict(leaves(tomllib.loads(text)))
    for path, value in found.items():
        span = places.values[path]
        assert tomllib.loads(f"x = {places.text[span.start : span.stop]}")["x"] == value
        if isinstance(path[-1], str):
            key = places.keys[path]
            assert list(tomllib.loads(f"{places.text[key.start : key.stop]} = 1")) == [path[-1]]
    return len(found)


def test_every_kind_of_value_and_table() -> None:
    assert check(EVERYTHING) == 20


@pytest.mark.parametrize("path", sorted(shipped_plans().rglob("*.toml")), ids=lambda path: path.name)
def test_shipped_files(path: Any) -> None:
    assert check(path.read_text(encoding="utf-8")) > 10


def test_windows_line_ends() -> None:
    assert check(EVERYTHING.replace("\n", "\r\n")) == 20


def test_line_and_column() -> None:
    places = Places(EVERYTHING)
    span = places.values["unit", 1, "remark", 0, "for"]
    assert places.line_column(span.start) == (30, 7)
    assert places.line_text(30) == 'for = "z"'


def test_nearest_of_what_is_not_there() -> None:
    places = Places(EVERYTHING)
    assert places.nearest(("unit", 1, "model")) == places.values["unit", 1]
    assert places.nearest(("nothing",)).start == 0


_keys = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1, max_size=6)
_words = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=12)
_values = st.recursive(
    st.one_of(_words, st.integers(-(10**6), 10**6), st.booleans()),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(_keys, inner, max_size=3)),
    max_leaves=12,
)


def written(value: Any) -> str:
    """A value as inline TOML; a JSON text without escapes beyond the common ones is a TOML text."""
    if isinstance(value, dict):
        pairs = (f"{written(key)} = {written(below)}" for key, below in value.items())
        return "{ " + ", ".join(pairs) + " }"
    if isinstance(value, list):
        return "[" + ",\n".join(map(written, value)) + "]"
    return json.dumps(value, ensure_ascii=False)


@given(st.dictionaries(_keys, _values, max_size=4))
def test_any_nesting(data: dict[str, Any]) -> None:
    text = "".join(f"{written(key)} = {written(value)} # = [\n" for key, value in data.items())
    assert check(text) == len(list(leaves(data)))
