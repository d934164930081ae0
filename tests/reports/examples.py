"""A small run with one of everything that a report has to show; built from the invented models of tests/judging."""

import math
from dataclasses import replace
from datetime import UTC, date, datetime

from sequencer.judging.scores import Scores
from sequencer.reports import score_record
from sequencer.values.event import (
    Applied,
    LoopOpened,
    Mishap,
    Noted,
    Probed,
    SegmentEnded,
    SegmentStarted,
    TakenAgain,
    Wired,
)
from sequencer.values.plan import Decision, Purchase, Remark, Unit
from sequencer.values.record import Record
from sequencer.values.step import NotCovered
from tests.judging import builders as b

TYPICAL = replace(
    b.UNIT,
    name="Larkfield =L61",
    functions=(replace(b.VOLTS, rows=(replace(b.VOLTS.rows[0], printed="6.000 V", typical=True),)), b.AC_VOLTS),
)
PRINTED = replace(
    b.UNIT,
    functions=(
        replace(
            b.VOLTS,
            rows=(replace(b.VOLTS.rows[0], printed="6.000 V"), replace(b.VOLTS.rows[1], printed="60.00 V")),
        ),
        b.AC_VOLTS,
    ),
)
REMARK = Remark(kind="against", text="the dial is stiff", author="the tester")
_NEW = Purchase(on=date(2026, 3, 1), condition="new")


def record(*, run: str = "20260601-101500-00", left_on: bool = False) -> Record:
    steps = b.sequence(3.0, -5.0, 5.5)
    return Record(
        run=run,
        started=datetime(2026, 6, 1, 10, 15, tzinfo=UTC),
        ended=datetime(2026, 6, 1, 10, 40, tzinfo=UTC),
        outcome="finished",
        plan=replace(
            b.PLAN,
            title="Two meters for a bench",
            decision=Decision(rule="guarded"),
            units=(
                Unit(number=1, label="A", model_file="unit", serial="LF-1", bought=_NEW, remarks=(REMARK,)),
                Unit(number=2, label="B", model_file="typical", serial="-1+1", bought=_NEW),
            ),
        ),
        bench=replace(b.BENCH, title="Corner table"),
        models={"unit": PRINTED, "typical": TYPICAL, "truth": b.TRUTH},
        sequence=replace(
            steps,
            not_covered=(
                NotCovered(
                    measure="dc voltage", nominal=80.0, frequency=None, unit=None, reason="no source reaches it"
                ),
                NotCovered(measure="dc voltage", nominal=12.0, frequency=None, unit=2, reason="beyond its range"),
            ),
        ),
        events=(
            SegmentStarted(
                simulated=True, seed=4, version="0.1.0", identities=(("truth", "EXAMPLE,STILLMERE 61,1,0"),)
            ),
            Wired(answers="wire:s01:1", at_s=1.0, setup="s01", lead_moves=3, dial_turns=2),
            Probed(answers="probe:s01:1", at_s=2.0, setup="s01", complaint="B shows nothing"),
            Applied(answers="a1", at_s=5.0, step="s01.p001", settled=False, source_setting=3.0),
            Applied(answers="a1", at_s=6.0, step="s01.p001", settled=True, source_setting=3.0),
            Applied(answers="a2", at_s=9.0, step="s01.p002", settled=False, source_setting=5.0, flags=("not trimmed",)),
            TakenAgain(at_s=10.0, answers="", step="s01.p002", unit=1, repeat=0, reason="lead had slipped"),
            Mishap(
                at_s=10.2,
                device="truth",
                role="reference",
                kind="no answer",
                said="truth: query 'READ?': no answer in time",
                done="new session, settings again",
                step="s01.p003",
            ),
            Mishap(
                at_s=10.4,
                device="truth",
                role="reference",
                kind="no answer",
                said="truth: query '*IDN?': no answer in time",
                done="new session, settings again",
                step="s01.p003",
            ),
            LoopOpened(answers="a3", at_s=10.6, step="s01.p003", text="source: its output went off by itself"),
            Mishap(at_s=10.7, device="B", role="unit", kind="of another time", said="B: beeps", done="flag"),
            Noted(at_s=11.0, text="B was warm to the touch"),
            SegmentEnded(at_s=99.0, outcome="finished", outputs_off=not left_on),
        ),
        columns=b.columns(
            {"step": 0, "unit": 1, "value": 3.005, "text": "3.005"},
            {"step": 0, "unit": 2, "value": 3.002, "text": "3.002"},
            {"step": 1, "unit": 1, "value": -5.0268, "reference": -5.0, "text": "-5.027", "attempts": 2},
            {"step": 1, "unit": 2, "value": -5.0, "reference": -5.0, "text": "=-5.000", "flags": ("low battery",)},
            {"step": 2, "unit": 1, "value": math.inf, "resolution": math.nan, "reference": 5.5, "text": "OL"},
            {
                "step": 2,
                "unit": 2,
                "value": math.nan,
                "resolution": math.nan,
                "reference": math.nan,
                "reference_count": 0,
                "text": "",
                "reason": "asleep",
                "attempts": 0,
            },
        ),
    )


def scored(*, left_on: bool = False) -> tuple[Record, Scores]:
    made = record(left_on=left_on)
    return made, score_record(made)
