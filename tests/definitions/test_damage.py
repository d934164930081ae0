"""However a file is damaged, loading it gives inputs or faults with a place, never anything else."""

import copy
import json
import tomllib
from dataclasses import replace
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sequencer.definitions import Inputs, InputText, load_inputs, reload_inputs, shipped_plans
from sequencer.errors import InputError

DIALECTS = {'driver = "scpi"': "scpi-configure", 'kind = "dc source"': "scpi-supply", 'kind = "generator"': "scpi-vpp"}


def with_dialect_files(texts: tuple[InputText, ...]) -> list[InputText]:
    """The same files with every device on the bench speaking a dialect file that lies beside it."""
    folder = shipped_plans().parent / "drivers" / "dialects"
    added = []
    for line, dialect in DIALECTS.items():
        said = f'{line}\ndialect = "{dialect}.toml"'
        texts = tuple(replace(text, text=text.text.replace(line, said)) for text in texts)
        content = (folder / f"{dialect}.toml").read_text(encoding="utf-8")
        added.append(InputText(role="dialect", name=f"benches/{dialect}.toml", text=content))
    return [*texts, *added]


SHIPPED = load_inputs(shipped_plans() / "bench-set.toml", shipped_plans() / "benches" / "simulated.toml")
WHOLE = reload_inputs(with_dialect_files(SHIPPED.texts))

Steps = tuple[str | int, ...]


def paths(data: Any, path: Steps = ()) -> list[Steps]:
    below: list[tuple[str | int, Any]] = []
    if isinstance(data, dict):
        below = list(data.items())
    elif isinstance(data, list):
        below = list(enumerate(data))
    return [path, *(found for step, value in below for found in paths(value, (*path, step)))]


def damaged(data: dict[str, Any], path: Steps, value: Any) -> dict[str, Any]:
    result = copy.deepcopy(data)
    around: Any = result
    for step in path[:-1]:
        around = around[step]
    around[path[-1]] = value
    return result


def written(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{written(key)} = {written(below)}" for key, below in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    return value.isoformat() if hasattr(value, "isoformat") else json.dumps(value, ensure_ascii=False)


_values = st.one_of(
    st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=8),
    st.sampled_from(
        ["", "1 V", "-1 V", "5 %", "0 V", "1 y", "unspecified", "around range changes", "A", "OL", "dc current"]
    ),
    st.integers(-5, 10**20),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
    st.dates(),
    st.lists(st.sampled_from(["1 V", 3, "x"]), max_size=2),
    st.dictionaries(st.sampled_from(["from", "to", "1 y", "x y", "scaled"]), st.sampled_from(["1 V", 3]), max_size=2),
)


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None, max_examples=150)
@given(st.data())
def test_one_damaged_value_in_one_file(data: st.DataObject) -> None:
    victim = data.draw(st.sampled_from(WHOLE.texts))
    content = tomllib.loads(victim.text)
    path = data.draw(st.sampled_from(paths(content)[1:]))
    content = damaged(content, path, data.draw(_values))
    text = "".join(f"{written(key)} = {written(value)}\n" for key, value in content.items())
    texts = [
        InputText(role=victim.role, name=victim.name, text=text) if item is victim else item for item in WHOLE.texts
    ]
    found: Inputs | InputError
    try:
        found = reload_inputs(texts)
    except InputError as error:
        found = error
    if isinstance(found, InputError):
        assert found.faults
        assert all(fault.where is not None and fault.where.line >= 1 for fault in found.faults)
        assert all(fault.got and fault.accepted and fault.key for fault in found.faults)
    else:
        assert reload_inputs(found.texts) == found
