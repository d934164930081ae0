"""Limits of the shipped models, worked on paper from the rows of their files; the row stands beside each number.

Every kind of row is there, and each number is held against the function and against the command.
"""

import json
import math
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from sequencer.cli import group
from sequencer.definitions import load_model, parse_quantity
from sequencer.judging.conditions import age_s
from sequencer.judging.limits import promise, shown_window
from sequencer.values.measure import UNITS, Measure
from sequencer.values.model import MeterModel
from tests.end_to_end.command import ROOT, meterjury

MODELS = ROOT / "plans" / "models"


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of the table: what is asked of one dial position, and the limit in SI units or why there is none."""

    kind: str
    model: str
    measure: Measure
    dial: str
    at: str
    limit: float | None
    reason: str = ""
    options: dict[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        return f"{self.kind}: {self.model} {self.dial} {self.at}"


def line(kind: str, model: str, measure: Measure, dial: str, at: str, limit: float | str, options: str = "") -> Line:
    """A line; `options` as `temperature=33 °C, frequency=60 Hz`, a text in place of the limit is the reason."""
    pairs = dict(pair.strip().split("=") for pair in options.split(",") if pair)
    return Line(
        kind=kind,
        model=model,
        measure=measure,
        dial=dial,
        at=at,
        limit=None if isinstance(limit, str) else limit,
        reason=limit if isinstance(limit, str) else "",
        options=pairs,
    )


L60, D50, H20, P6, T6, W9 = "larkfield-l60", "dunmarrow-d50", "hallow-h20", "pellworth-p6", "tamsin-t6", "wexmoor-w9"
OSTERMERE = "ostermere-600"
TYPICAL = "the manual calls this accuracy typical"
NO_BAND = "the manual gives no accuracy at this frequency"
NO_LEVEL = "the manual gives no accuracy at this level of the range"
NO_WAVE = "the manual does not cover this waveform"
DAY = "calibrated=2026-03-01, on=2026-03-02"
QUARTER = "calibrated=2026-03-01, on=2026-05-20"
YEAR = "calibrated=2026-03-01, on=2026-12-24"

TABLE = (
    # Rows of the Larkfield L60: dc voltage, dial V: 6.000 V (shows up to 6.599 V) and 60.00 V (65.99 V) 0.5 % + 2,
    # 600.0 V 0.8 % + 2.
    # 0.5 % of 4 V + 2 x 1 mV
    line("counts", L60, "dc voltage", "V", "4 V", 0.022),
    # 0.5 % of 8 V + 2 x 10 mV
    line("the next range", L60, "dc voltage", "V", "8 V", 0.060),
    # 0.8 % of 100 V + 2 x 0.1 V
    line("another percentage", L60, "dc voltage", "V", "100 V", 1.0),
    # 0.5 % of 3 V + 2 x 1 mV
    line("a negative value", L60, "dc voltage", "V", "-3 V", 0.017),
    # 2 x 1 mV
    line("zero", L60, "dc voltage", "V", "0 V", 0.002),
    # 0.5 % of 6.5 V + 2 x 1 mV
    line("display_to", L60, "dc voltage", "V", "6.5 V", 0.0345),
    # 0.5 % of 6.6 V + 2 x 10 mV
    line("past display_to", L60, "dc voltage", "V", "6.6 V", 0.053),
    # 0.5 % of 3 V + 2 x 10 mV
    line("a locked range", L60, "dc voltage", "V", "3 V", 0.035, "range=60 V"),
    line("beyond", L60, "dc voltage", "V", "700 V", "700 V is beyond the largest range, which ends at 600 V"),
    # Rows: dial mV: 600.0 mV (shows up to 659.9 mV) 0.5 % + 3.
    # 0.5 % of 300 mV + 3 x 0.1 mV
    line("another position", L60, "dc voltage", "mV", "300 mV", 0.0018),
    # 0.5 % of 650 mV + 3 x 0.1 mV
    line("its display_to", L60, "dc voltage", "mV", "650 mV", 0.00355),
    line("beyond it", L60, "dc voltage", "mV", "4 V", "4 V is beyond the largest range, which ends at 659.9 mV"),
    # Rows: ac voltage: 45 Hz to 500 Hz 1.0 % + 3 from 5 % of the range; 6.000 V 500 Hz to 1 kHz 2.5 % + 5, typical.
    # 1.0 % of 4 V + 3 x 1 mV
    line("band", L60, "ac voltage", "V", "4 V", 0.043, "frequency=60 Hz"),
    # 1.0 % of 4 V + 3 x 1 mV
    line("touches typical", L60, "ac voltage", "V", "4 V", 0.043, "frequency=500 Hz"),
    line("typical", L60, "ac voltage", "V", "4 V", TYPICAL, "frequency=600 Hz"),
    line("no band", L60, "ac voltage", "V", "4 V", NO_BAND, "frequency=2 kHz"),
    # 1.0 % of 0.3 V + 3 x 1 mV, at 5 % of 6 V
    line("from", L60, "ac voltage", "V", "0.3 V", 0.006, "frequency=60 Hz"),
    line("below from", L60, "ac voltage", "V", "0.29 V", NO_LEVEL, "frequency=60 Hz"),
    line("waveform", L60, "ac voltage", "V", "4 V", NO_WAVE, "frequency=60 Hz, waveform=square"),
    # Rows: dc current: µA 600.0 µA, 6000 µA and mA 60.00 mA 1.0 % + 3, 1.0 % + 3 and 1.2 % + 3; 10A 10.00 A 1.5 % + 5.
    # 1.0 % of 3 mA + 3 x 1 µA
    line("resolution", L60, "dc current", "µA", "3 mA", 33e-6),
    # 1.2 % of 3 mA + 3 x 10 µA
    line("three positions", L60, "dc current", "mA", "3 mA", 66e-6),
    # 1.5 % of 3 mA + 5 x 10 mA
    line("a coarse one", L60, "dc current", "10A", "3 mA", 0.050045),
    # Rows: resistance: 600.0 Ω 0.8 % + 3 after zero, 6.000 MΩ 1.5 % + 3.
    # 0.8 % of 400 Ω + 3 x 0.1 Ω
    line("after zero", L60, "resistance", "Ω", "400 Ω", 3.5),
    # 1.5 % of 5 MΩ + 3 x 1 kΩ
    line("megohms", L60, "resistance", "Ω", "5 MΩ", 78e3),
    # Rows: 18 °C to 28 °C, outside 0.1 x accuracy / °C.
    # 22 mV x (1 + 5 x 0.1)
    line("too warm", L60, "dc voltage", "V", "4 V", 0.033, "temperature=33 °C"),
    # 22 mV x (1 + 3 x 0.1)
    line("too cold", L60, "dc voltage", "V", "4 V", 0.0286, "temperature=15 °C"),
    # 22 mV
    line("at the window's end", L60, "dc voltage", "V", "4 V", 0.022, "temperature=28 °C"),
    # Rows of the Ostermere 600: ac voltage, V~, 6.000 V: to 65 Hz 0.8 % + 3, to 400 Hz 1.2 % + 3, to 2 kHz 2.0 % + 5.
    # 0.8 % of 5 V + 3 x 1 mV
    line("two bands touch", OSTERMERE, "ac voltage", "V~", "5 V", 0.043, "frequency=65 Hz"),
    # 1.2 % of 5 V + 3 x 1 mV
    line("they touch again", OSTERMERE, "ac voltage", "V~", "5 V", 0.063, "frequency=400 Hz"),
    # 2.0 % of 5 V + 5 x 1 mV
    line("the third band", OSTERMERE, "ac voltage", "V~", "5 V", 0.105, "frequency=1 kHz"),
    # Rows: 60.00 V: to 65 Hz 0.8 % + 3, above it unspecified.
    # 0.8 % of 50 V + 3 x 10 mV
    line("touches unspecified", OSTERMERE, "ac voltage", "V~", "50 V", 0.43, "frequency=65 Hz"),
    line(
        "unspecified", OSTERMERE, "ac voltage", "V~", "50 V", "the manual leaves this unspecified", "frequency=400 Hz"
    ),
    # Rows: LoZ, low-impedance mode: 600.0 V 2 % + 5.
    # 2 % of 5 V + 5 x 0.1 V
    line("mode", OSTERMERE, "ac voltage", "LoZ", "5 V", 0.6, "frequency=60 Hz"),
    # Rows: dc voltage 600.0 mV 0.3 % + 3, outside 0.05 x accuracy / °C; dc current, A: 10.00 A 1.5 % + 5.
    # (0.3 % of 400 mV + 3 x 0.1 mV) x (1 + 10 x 0.05)
    line("half the coefficient", OSTERMERE, "dc voltage", "V", "400 mV", 0.00225, "temperature=38 °C"),
    # 1.5 % of 8 A + 5 x 10 mA
    line("a high current", OSTERMERE, "dc current", "A", "8 A", 0.17),
    # Rows: temperature: 400.0 °C 1 % + 1 °C, 1000 °C 1 % + 2 °C.
    # 1 % of 100 °C + 1 °C
    line("constant", OSTERMERE, "temperature", "°C", "100 °C", 2.0),
    # 1 % of 500 °C + 2 °C
    line("constant, coarse", OSTERMERE, "temperature", "°C", "500 °C", 7.0),
    # Rows of the Hallow H20: dc voltage 2.0000 V 0.05 % + 3.
    # 0.05 % of 1.5 V + 3 x 0.1 mV
    line("20000 counts", H20, "dc voltage", "V", "1.5 V", 0.00105),
    # Rows: ac voltage to 500 Hz 0.8 % + 20, + 20 digits below 10 % of the range, + 1 % at a crest factor from 1.5 to 3.
    # 0.8 % of 0.15 V + 20 x 0.1 mV + 20 x 0.1 mV
    line("addition below", H20, "ac voltage", "V~", "0.15 V", 0.0052, "frequency=60 Hz"),
    # 0.8 % of 0.2 V + 20 x 0.1 mV
    line("not at its end", H20, "ac voltage", "V~", "0.2 V", 0.0036, "frequency=60 Hz"),
    # 0.8 % of 5 V + 20 x 1 mV + 1 % of 5 V
    line("crest factor", H20, "ac voltage", "V~", "5 V", 0.11, "frequency=60 Hz, waveform=triangle"),
    # 0.8 % of 5 V + 20 x 1 mV
    line("a sine's is lower", H20, "ac voltage", "V~", "5 V", 0.06, "frequency=60 Hz"),
    # Rows: 200.00 V: from 5 % to 100 V 0.8 % + 20, from 100 V 1.2 % + 20.
    # 0.8 % of 60 V + 20 x 10 mV
    line("to a value", H20, "ac voltage", "V~", "60 V", 0.68, "frequency=60 Hz"),
    # 1.2 % of 150 V + 20 x 10 mV
    line("from a value", H20, "ac voltage", "V~", "150 V", 2.0, "frequency=60 Hz"),
    # 0.8 % of 100 V + 20 x 10 mV
    line("two levels touch", H20, "ac voltage", "V~", "100 V", 1.0, "frequency=60 Hz"),
    # Rows: resistance 2.0000 kΩ 0.2 % + 3, with a coefficient of its own, 0.02 % / °C.
    # 0.2 % of 1500 Ω + 3 x 0.1 Ω + 2 x 0.02 % of 1500 Ω
    line("its own coefficient", H20, "resistance", "Ω", "1.5 kΩ", 3.9, "temperature=30 °C"),
    # Rows of the Pellworth P6: no coefficient; dc voltage 0.5 % + 2, 600 V in steps of 0.1 V; dc current mA 2 % + 5,
    # A 2.5 % + 5; 60.00 nF 5 % + 10.
    line(
        "no coefficient",
        P6,
        "dc voltage",
        "V",
        "3 V",
        "outside the temperature window, and the manual gives no coefficient",
        "temperature=33 °C",
    ),
    # 0.5 % of 3 V + 2 x 1 mV
    line("shared ranges", P6, "dc voltage", "V", "3 V", 0.017, "temperature=28 °C"),
    # 0.5 % of 300 V + 2 x 0.1 V
    line("resolution of its own", P6, "dc voltage", "V", "300 V", 1.7),
    # 2 % of 2 mA + 5 x 10 µA
    line("mostly digits", P6, "dc current", "mA", "2 mA", 90e-6),
    # 2.5 % of 2 mA + 5 x 10 mA
    line("only digits", P6, "dc current", "A", "2 mA", 0.05005),
    # 5 % of 4.7 nF + 10 x 0.01 nF
    line("capacitance", P6, "capacitance", "F", "4.7 nF", 0.335e-9),
    # Rows of the Tamsin T6: ac voltage, average-responding, 1.2 % + 5 from zero on.
    # 1.2 % of 1 mV + 5 x 1 mV
    line("no lowest level", T6, "ac voltage", "V~", "1 mV", 0.005012, "frequency=60 Hz"),
    line("average", T6, "ac voltage", "V~", "3 V", NO_WAVE, "frequency=60 Hz, waveform=square"),
    # Rows of the Dunmarrow D50: ac voltage 500.00 mV 0.2 % + 10; dc voltage 5.0000 V 0.03 % + 2.
    # 0.2 % of 400 mV + 10 x 0.01 mV
    line("50000 counts", D50, "ac voltage", "V~", "400 mV", 0.0009, "frequency=1 kHz"),
    # 0.03 % of 4 V + 2 x 0.1 mV
    line("50000 counts, dc", D50, "dc voltage", "V", "4 V", 0.0014),
    # Rows of the Wexmoor W9: 10.00000 V: 24 h 14 ppm + 5 ppm of range, 90 d 26 ppm + 6 ppm, 1 y 38 ppm + 6 ppm.
    # 14 ppm of 5 V + 5 ppm of 10 V
    line("ppm of range", W9, "dc voltage", "dc voltage", "5 V", 120e-6, DAY),
    # 26 ppm of 5 V + 6 ppm of 10 V
    line("the second column", W9, "dc voltage", "dc voltage", "5 V", 190e-6, QUARTER),
    # 38 ppm of 5 V + 6 ppm of 10 V
    line("the last column", W9, "dc voltage", "dc voltage", "5 V", 250e-6, YEAR),
    # 38 ppm of 5 V + 6 ppm of 10 V
    line("no date", W9, "dc voltage", "dc voltage", "5 V", 250e-6),
    # the last column
    line("overdue", W9, "dc voltage", "dc voltage", "5 V", 250e-6, "calibrated=2024-03-01, on=2026-12-24"),
    # 60 ppm of 110 mV + 40 ppm of 100 mV
    line("past the printed range", W9, "dc voltage", "dc voltage", "110 mV", 10.6e-6),
    # 250 µV x (1 + 2 x 0.1)
    line("a reference too warm", W9, "dc voltage", "dc voltage", "5 V", 300e-6, "temperature=30 °C"),
    # 320 ppm of 50 mA + 60 ppm of 100 mA
    line("its current", W9, "dc current", "dc current", "50 mA", 22e-6, QUARTER),
)


@lru_cache
def model_of(name: str) -> MeterModel:
    return load_model(MODELS / f"{name}.toml")


def path_of(name: str) -> Path:
    return MODELS / f"{name}.toml"


def test_the_table_is_long_and_names_each_kind_once() -> None:
    kinds = [one.kind for one in TABLE]
    assert len(kinds) == len(set(kinds)) >= 30
    assert sum(one.limit is not None for one in TABLE) >= 30


@pytest.mark.parametrize("one", TABLE, ids=str)
def test_the_function_gives_what_paper_gives(one: Line) -> None:
    model, unit = model_of(one.model), UNITS[one.measure]
    index = next(
        index for index, there in enumerate(model.functions) if (there.measures, there.dial) == (one.measure, one.dial)
    )
    options = one.options

    def given(key: str, kind: str) -> float | None:
        return parse_quantity(options[key], kind).value if key in options else None

    promised = promise(
        model,
        index,
        parse_quantity(one.at, unit).value,
        frequency=given("frequency", "Hz"),
        full_scale=given("range", unit),
        temperature=given("temperature", "°C"),
        waveform="sine" if "waveform" not in options else "square" if options["waveform"] == "square" else "triangle",
        age_s=age_s(*(date.fromisoformat(options[key]) for key in ("calibrated", "on"))) if "on" in options else None,
    )
    assert promised.reason == one.reason
    if one.limit is None:
        assert math.isnan(promised.limit)
    else:
        assert promised.limit == pytest.approx(one.limit, rel=1e-12)


@pytest.mark.parametrize("one", TABLE, ids=str)
def test_the_command_gives_what_paper_gives(one: Line) -> None:
    options = [word for key, value in one.options.items() for word in (f"--{key}", value)]
    words = ["--measure", one.measure, "--at", one.at, "--dial", one.dial, *options, "--json"]
    done = CliRunner().invoke(group, ["limits", str(path_of(one.model)), *words])
    assert done.exit_code == 0, done.exception
    (found,) = json.loads(done.stdout)
    assert (found["measure"], found["dial"], found["unit"]) == (one.measure, one.dial, UNITS[one.measure])
    assert found["reason"] == (one.reason or None)
    if one.limit is None:
        assert [found[key] for key in ("limit", "low", "high", "shown_low", "shown_high", "percent")] == [None] * 6
        return
    assert found["limit"] == pytest.approx(one.limit, rel=1e-11)
    assert found["low"] == pytest.approx(found["at"] - one.limit, rel=1e-9, abs=1e-12 * one.limit)
    assert found["high"] == pytest.approx(found["at"] + one.limit, rel=1e-9, abs=1e-12 * one.limit)
    # What the display may show is a whole number of digits, inside, and the next digit is outside.
    digit = found["resolution"]
    assert found["shown_low"] / digit == pytest.approx(round(found["shown_low"] / digit), abs=1e-6)
    assert found["low"] - 1e-6 * digit <= found["shown_low"] < found["low"] + digit * (1 - 1e-6)
    assert found["high"] - digit * (1 - 1e-6) < found["shown_high"] <= found["high"] + 1e-6 * digit


@pytest.mark.parametrize(
    ("at", "low", "high", "first", "last"),
    [
        # 0.5 % of 3.217 V + 2 x 1 mV is 18.085 mV: 3.198915 V to 3.235085 V
        (3.217, 3.198915, 3.235085, 3.199, 3.235),
        # 0.5 % of 4 V + 2 x 1 mV is 22 mV, whose bounds are displays themselves
        (4.0, 3.978, 4.022, 3.978, 4.022),
        # 0.5 % of 1 mV + 2 x 1 mV is 2.005 mV: -1.005 mV to 3.005 mV
        (0.001, -0.001005, 0.003005, -0.001, 0.003),
    ],
)
def test_the_display_is_rounded_inwards(at: float, low: float, high: float, first: float, last: float) -> None:
    promised = promise(model_of(L60), 0, at)
    assert (promised.low, promised.high) == pytest.approx((low, high), rel=1e-12)
    assert promised.shown == pytest.approx((first, last), abs=1e-12)
    assert shown_window(low, high, 0.001) == pytest.approx((first, last), abs=1e-12)


def test_the_installed_command_gives_what_paper_gives(tmp_path: Path) -> None:
    alone = [one for one in TABLE if (one.model, one.measure, one.dial) == (L60, "dc voltage", "V") and not one.options]
    values = [word for one in alone for word in ("--at", one.at)]
    words = ("--measure", "dc voltage", "--dial", "V", *values, "--json")
    found = json.loads(meterjury(tmp_path, "limits", path_of(L60), *words).stdout)
    assert [one["limit"] for one in found] == pytest.approx([one.limit for one in alone])
