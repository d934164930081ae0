"""What a person at a terminal is told to do by hand, line by line."""

import io
from dataclasses import replace

import pytest

from sequencer.errors import OperatorStop
from sequencer.running.console import ConsoleOperator, hazard_lines, source_text, wiring_lines, zero_lines
from sequencer.running.operator import DialTurn, Hazard, SourceOrder, WiringOrder, ZeroOrder
from sequencer.running.stopping import StopRequest
from sequencer.values.step import DialSetting, Setup, Zero

ALONE = Setup(
    key="s01",
    wiring="alone",
    measure="capacitance",
    source="",
    reference="C100n",
    polarity=1,
    dials=(DialSetting(unit=1, function=0, dial="F", jack="V"),),
    probe=0.0,
    artifact="C100n",
)
TURN = DialTurn(label="A", dial="F", jack="V", select="press SELECT twice")
ZERO = Zero(key="1:0:", unit=1, leads="open")


def order(setup: Setup = ALONE, **changes: object) -> WiringOrder:
    made = WiringOrder(setup=setup, labels=("A",), reference=setup.reference, turns=(), leads_move=True)
    return replace(made, **changes)  # type: ignore[arg-type]


def test_a_capacitor_is_discharged_first_and_nothing_else_is_on_it() -> None:
    assert wiring_lines(order()) == [
        "",
        "Lead move for capacitance, the output is off.",
        "  Discharge C100n through a resistor before it is touched or measured.",
        "  A alone on artifact C100n: nothing else on its leads.",
    ]


HAZARD = Hazard(
    points=("100 V dc voltage is above 60 V dc, where touching it can injure or kill",),
    labels=("A", "B", "truth"),
    source="dc",
    limit="current limit 10 mA",
    trust_notes=("Measurement category without an independent test: B (CAT III 600 V).",),
)


def test_a_hazard_names_what_a_person_has_to_know() -> None:
    assert hazard_lines(HAZARD) == [
        "WARNING: this part can injure or kill. The output is off until you confirm.",
        "  100 V dc voltage is above 60 V dc, where touching it can injure or kill.",
        "  On the terminals: A, B, truth, and nothing else; no hand on a lead from here on.",
        "  Source dc: current limit 10 mA. It alone feeds them: never the mains, nor what is joined to it.",
        "  Measurement category without an independent test: B (CAT III 600 V).",
        "  For a qualified person, by local codes and licensed practice; a printed category is no promise of safety.",
    ]


@pytest.mark.parametrize(
    ("typed", "declined"),
    [("confirm\n", ""), ("\ny\nconfirm now\nCONFIRM\n", ""), ("skip\n\nno gloves\n", "no gloves"), ("skip no\n", "no")],
)
def test_a_hazard_wants_a_whole_word(typed: str, declined: str) -> None:
    out = io.StringIO()
    lines = io.StringIO(typed)
    assert ConsoleOperator(StopRequest(), lines=lines, out=out).confirm_hazard(HAZARD) == declined
    assert lines.read() == ""
    assert out.getvalue().count("WARNING") == 1
    with pytest.raises(OperatorStop):
        ConsoleOperator(StopRequest(), lines=io.StringIO("stop\n"), out=out).confirm_hazard(HAZARD)


def test_who_leaves_the_terminals_is_named() -> None:
    assert "  Take off: C, D." in wiring_lines(order(taken_off=("C", "D")))


def test_a_zero_that_no_longer_holds_is_cancelled() -> None:
    resistor = replace(ALONE, measure="resistance", artifact="R1k", reference="R1k")
    assert wiring_lines(order(resistor, cancels=("A",)))[2:] == [
        "  A alone on artifact R1k: nothing else on its leads.",
        "  A: cancel REL, which may hold its range.",
    ]


def test_a_zero_says_dial_range_and_leads() -> None:
    assert zero_lines(ZeroOrder(zero=ZERO, label="A", settle_s=1.0, turns=(TURN,))) == [
        "",
        "Zero of A, the output is off.",
        "  A: dial to F, press SELECT twice; red lead in jack V",
        "  A: leave its leads open, away from everything.",
    ]
    held = replace(ZERO, leads="shorted", relative=True, held_range="6.000 kΩ", held_full_scale=6e3)
    assert zero_lines(ZeroOrder(zero=held, label="A", settle_s=1.0, cancels=True))[2:] == [
        "  A: cancel REL.",
        "  A: hold the range 6.000 kΩ by hand.",
        "  A: short its leads together.",
    ]


class Watched:
    """Hands that note what they were told."""

    def __init__(self) -> None:
        self.told: list[str] = []

    def perform(self, order: WiringOrder) -> None:
        self.told.append("perform")

    def hold_leads(self, order: ZeroOrder) -> None:
        self.told.append("hold")

    def subtract(self, order: ZeroOrder) -> None:
        self.told.append("subtract")

    def set_source(self, order: SourceOrder) -> None:
        self.told.append("set")

    def turn_off(self, source: str) -> None:
        self.told.append("off")


def test_rel_is_pressed_only_when_the_display_is_steady() -> None:
    hands, out = Watched(), io.StringIO()
    console = ConsoleOperator(StopRequest(), hands=hands, lines=io.StringIO("\n\n\n"), out=out)
    console.take_zero(ZeroOrder(zero=replace(ZERO, relative=True), label="A", settle_s=1.0))
    assert out.getvalue().endswith("  A: once it is steady press REL, then Enter > ")
    console.take_zero(ZeroOrder(zero=ZERO, label="A", settle_s=1.0))
    assert hands.told == ["hold", "subtract", "hold"]


@pytest.mark.parametrize(
    ("order", "text"),
    [
        (
            SourceOrder(source="knob", measure="dc voltage", setting=-3.0, voltage_limit=2.0, current_limit=0.01),
            "-3 V dc voltage, current limit 10 mA",
        ),
        (
            SourceOrder(source="knob", measure="dc current", setting=2e-3, voltage_limit=12.0),
            "2 mA dc current, voltage limit 12 V",
        ),
        (
            SourceOrder(
                source="knob",
                measure="ac voltage",
                setting=1.5,
                frequency=400.0,
                waveform="square",
                current_limit=0.01,
            ),
            "1.5 V ac voltage at 400 Hz, square",
        ),
    ],
)
def test_what_to_set_is_said_with_its_limit(order: SourceOrder, text: str) -> None:
    assert source_text(order) == text


def test_a_source_that_is_set_by_hand_is_asked_about() -> None:
    hands, out = Watched(), io.StringIO()
    console = ConsoleOperator(StopRequest(), hands=hands, lines=io.StringIO("\n"), out=out)
    console.set_source(SourceOrder(source="knob", measure="dc voltage", setting=3.0, current_limit=0.01))
    console.confirm_off("knob")
    assert hands.told == ["set", "off"]
    assert "Set knob by hand: 3 V dc voltage, current limit 10 mA." in out.getvalue()
    assert out.getvalue().endswith("Turn knob down to zero and switch its output off. Enter when it is off > ")
