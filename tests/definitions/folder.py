"""A little folder of files to load: one model, one plan, one bench, each changed as a test wants."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from sequencer.definitions import Inputs, load_inputs
from sequencer.errors import Fault, InputError

MODEL = """\
[model]
name = "Meter"

[[jack]]
name = "V"

[[function]]
measures = "dc voltage"
dial = "V"
jack = "V"
rows = [
  { range = "6.000 V", accuracy = "0.5 % + 2" },
]
"""

PLAN = """\
[plan]
title = "Plan"

[[unit]]
label = "A"
model = "meter.toml"

[[sweep]]
measure = "dc voltage"
points = ["1 V", "-3 V"]
"""

BENCH = """\
[[reference]]
name = "truth"
model = "meter.toml"
calibrated = 2026-03-09
covers = [{ measure = "dc voltage", from = "0 V", to = "6 V" }]

[[source]]
name = "dc"
kind = "dc source"
max_voltage = "10 V"
max_current = "1 A"
covers = [{ measure = "dc voltage", from = "0 V", to = "6 V" }]

[simulated]
"""


@dataclass(frozen=True, slots=True)
class Folder:
    """Three files in one folder."""

    path: Path

    def write(self, *, model: str = MODEL, plan: str = PLAN, bench: str = BENCH) -> None:
        for name, text in (("meter.toml", model), ("plan.toml", plan), ("bench.toml", bench)):
            (self.path / name).write_text(text, encoding="utf-8")

    def load(self) -> Inputs:
        return load_inputs(self.path / "plan.toml", self.path / "bench.toml")

    def faults(self) -> tuple[Fault, ...]:
        with pytest.raises(InputError) as caught:
            self.load()
        return caught.value.faults

    def message(self) -> str:
        """What is printed, with file names from the folder."""
        with pytest.raises(InputError) as caught:
            self.load()
        return str(caught.value).replace(f"{self.path}/", "")
