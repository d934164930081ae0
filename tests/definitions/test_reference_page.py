"""The format reference names every key that the files accept, and no other."""

import re
from collections.abc import Iterator

import pytest

from sequencer.definitions import shipped_plans
from sequencer.definitions.bench_file import BenchFile
from sequencer.definitions.fields import Entry
from sequencer.definitions.inputs import entries_in
from sequencer.definitions.model_file import ModelFile
from sequencer.definitions.plan_file import PlanFile

SECTIONS: tuple[tuple[str, type[Entry]], ...] = (("Model", ModelFile), ("Plan", PlanFile), ("Bench", BenchFile))


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
