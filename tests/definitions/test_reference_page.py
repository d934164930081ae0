"""The format reference names every key that the files accept, and no other."""

import re
from collections.abc import Iterator

import pytest

from sequencer.definitions import InputText, load_inputs, reload_inputs, shipped_plans
from sequencer.definitions.bench_file import BenchFile
from sequencer.definitions.dialect_file import DialectFile
from sequencer.definitions.entries import entries_in
from sequencer.definitions.fields import Entry
from sequencer.definitions.model_file import ModelFile
from sequencer.definitions.plan_file import PlanFile
from sequencer.errors import InputError

SECTIONS: tuple[tuple[str, type[Entry]], ...] = (
    ("Model", ModelFile),
    ("Plan", PlanFile),
    ("Bench", BenchFile),
    ("Dialect", DialectFile),
)


def section(title: str) -> str:
    text = (shipped_plans() / "README.md").read_text(encoding="utf-8")
    found = re.search(rf"^## {title}\n(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
    assert found is not None
    return found[1]


def keys_of(entry: type[Entry]) -> Iterator[str]:
    for name, field in entry.model_fields.items():
        yield field.alias or name
        for below in entries_in(field.annotation):
            yield from keys_of(below)


@pytest.mark.parametrize(("title", "entry"), SECTIONS)
def test_every_key_is_described(title: str, entry: type[Entry]) -> None:
    words = set(re.findall(r"[a-z_]+", " ".join(re.findall(r"`[^`]+`|^#+ .*$", section(title), re.MULTILINE))))
    assert set(keys_of(entry)) - {"format"} - words == set()


@pytest.mark.parametrize(("title", "entry"), SECTIONS)
def test_no_other_key_is_described(title: str, entry: type[Entry]) -> None:
    described = re.findall(r"^\| ((?:`[a-z_]+`(?:, )?)+) \|", section(title), re.MULTILINE)
    named = {key for cell in described for key in re.findall(r"[a-z_]+", cell)}
    assert named - set(keys_of(entry)) == set()
    assert named


def test_the_fault_on_the_page_is_what_is_printed() -> None:
    folder = shipped_plans()
    texts = load_inputs(folder / "bench-set.toml", folder / "benches" / "simulated.toml").texts
    spoilt = [
        InputText(role=text.role, name=text.name, text=text.text.replace('"3 V", "-3 V"', '"3 VV", "-3 V"'))
        for text in texts
    ]
    with pytest.raises(InputError) as caught:
        reload_inputs(spoilt)
    (fault,) = caught.value.faults
    assert f"```\n{fault}\n```\n" in (folder / "README.md").read_text(encoding="utf-8")
