"""What a report says of input resistances and burdens."""

import json
from dataclasses import replace

from sequencer.reports.as_json import render_json
from sequencer.reports.as_text import render_text
from sequencer.reports.assemble import score_record
from sequencer.reports.derived_facts import derived_facts, derived_text
from sequencer.values.record import Record
from tests.judging import builders as b
from tests.judging.test_derived import MEGOHM, SEQUENCE, UNIT, row
from tests.reports import examples


def record() -> Record:
    plain = examples.record()
    sequence = replace(
        plain.sequence,
        setups=(*plain.sequence.setups, *SEQUENCE.setups),
        steps=(*plain.sequence.steps, *SEQUENCE.steps),
    )
    before = len(plain.sequence.steps)
    rows = (row(before, 5.0 * 10 / 11, 5.0), row(before + 1, 5.0, 5.0), row(before + 2, 0.05, 0.105, 1e-5))
    return replace(
        plain,
        sequence=sequence,
        bench=replace(plain.bench, artifacts=(MEGOHM,)),
        models={**plain.models, "unit": replace(UNIT, name="Derived unit")},
        derived=b.columns(*rows),
    )


def test_each_value_stands_beside_the_manual() -> None:
    assert list(derived_text(derived_facts(record()))) == [
        "Derived",
        "-------",
        "A  input resistance, dial V, at 5 V: 10.000 MΩ ± 0.019 MΩ (k = 2); the manual prints 11 MΩ",
        "A  burden voltage, dial V, at 50 mA: 105.00 mV ± 0.66 mV (k = 2); the manual prints 100 mV",
        "",
    ]


def test_a_page_and_its_data_hold_them_and_points_do_not() -> None:
    made = record()
    scores = score_record(made)
    assert "Derived\n-------\nA  input resistance" in render_text(made, scores)
    document = json.loads(render_json(made, scores))
    assert [(one["unit"], one["what"]) for one in document["derived"]] == [
        ("A", "input resistance"),
        ("A", "burden voltage"),
    ]
    assert len(document["points"]) == len(json.loads(render_json(examples.record(), scores))["points"])


def test_what_was_not_read_is_said_with_what_the_manual_prints() -> None:
    made = replace(record(), derived=b.columns(row(3, 5.0, 5.0)))
    assert list(derived_text(derived_facts(made)))[2:4] == [
        "A  input resistance, dial V, at 5 V: not read; the manual prints 11 MΩ",
        "A  burden voltage, dial V, at 50 mA: not read; the manual prints nothing",
    ]


def test_nothing_is_said_where_nothing_was_derived() -> None:
    assert list(derived_text(derived_facts(examples.record()))) == []
