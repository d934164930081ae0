"""The whole bench: what a cue promises, and that the wires do what the person did."""

import pytest

from simulators.bench import Bench
from simulators.circuit import Wiring
from simulators.meter import HandError
from simulators.noise import normal_deviate
from tests.simulators.table import advance, ask, bench


def wired() -> Bench:
    made = bench()
    made.wire("parallel", "dc", 1, ["bench"], ["A", "B"])
    ask(made.instruments["dc"], made, "CURR:LIM 0.01;:OUTP ON")
    ask(made.instruments["bench"], made, "CONF:VOLT:DC 10")
    return made


def take(on: Bench, cue: str) -> list[str | None]:
    """Everything that can be read in the ten seconds after a cue, with its time since the cue."""
    on.cue(cue)
    begun_ns, found = on.now_ns, []
    for _ in range(10):
        advance(on, 1.0)
        found.append(ask(on.instruments["bench"], on, "READ?"))
        for meter in on.meters.values():
            shown = meter.shown(on.now_ns)
            found += [shown.text if shown else None, str(on.now_ns - begun_ns)]
    return found


def settle(on: Bench, *levels: float) -> Bench:
    for volts in levels:
        ask(on.instruments["dc"], on, f"VOLT {volts}")
        advance(on, 1.7)
    advance(on, 2.0)
    return on


def test_after_a_cue_only_the_settled_state_counts() -> None:
    straight = settle(wired(), 3.0)
    roundabout = settle(wired(), 1.0, -2.0, 0.5)
    ask(roundabout.instruments["bench"], roundabout, "READ?")
    take(roundabout, "elsewhere")
    settle(roundabout, 3.0)
    first = take(straight, "step 4")
    assert first == take(roundabout, "step 4")
    assert first == take(straight, "step 4")
    assert first != take(straight, "step 5")


def test_another_seed_is_another_noise() -> None:
    assert take(settle(wired(), 3.0), "x") == take(settle(wired(), 3.0), "x")
    other = bench(seed=8)
    other.wire("parallel", "dc", 1, ["bench"], ["A", "B"])
    ask(other.instruments["dc"], other, "CURR:LIM 0.01;:OUTP ON")
    ask(other.instruments["bench"], other, "CONF:VOLT:DC 10")
    assert take(settle(other, 3.0), "x") != take(settle(wired(), 3.0), "x")


def test_deviates_are_standard_normal() -> None:
    drawn = [normal_deviate(1, "A", "cue", count) for count in range(20000)]
    mean = sum(drawn) / len(drawn)
    variance = sum((each - mean) ** 2 for each in drawn) / len(drawn)
    within_one = sum(abs(each) < 1 for each in drawn) / len(drawn)
    # Four standard errors of 20,000 draws: mean 0.028, variance 0.04, share 0.013 around 0.6827.
    assert abs(mean) < 0.029
    assert abs(variance - 1) < 0.041
    assert abs(within_one - 0.6827) < 0.014


def test_only_what_is_wired_sees_the_source() -> None:
    made = settle(wired(), 3.0)
    made.wire("parallel", "dc", 1, ["bench"], ["A"])
    advance(made, 2.0)
    levels = {label: meter.sensor.level(made.now_ns) for label, meter in made.meters.items()}
    assert levels == {"A": pytest.approx(3.0, abs=1e-6), "B": 0.0}
    made.wire("parallel", "dc", -1, [], ["B"])
    advance(made, 2.0)
    assert made.meters["B"].sensor.level(made.now_ns) == pytest.approx(-3.0, abs=1e-6)


def test_a_range_and_its_burden_settle_together() -> None:
    # The low range has a burden of 100 Ω, the high one of 1 Ω; which one is in force decides about the current.
    spans = [
        {"full_scale": 0.06, "display_to": 0.066, "resolution": 1e-5, "unit": "mA", "burden_ohm": 100.0},
        {"full_scale": 10.0, "display_to": 11.0, "resolution": 1e-3, "unit": "A", "burden_ohm": 1.0},
    ]
    meter = {
        "label": "A",
        "noise_digits": 0,
        "positions": [{"dial": "A", "jack": "A", "measures": "dc current", "ranges": spans}],
    }
    made = bench(meters=[meter], lead_ohm=0)
    made.wire("series", "dc", 1, [], ["A"])
    ask(made.instruments["dc"], made, "VOLT 6.5;:OUTP ON")
    advance(made, 1.0)
    low = made.meters["A"].shown(made.now_ns)
    assert low is not None
    assert (low.text, low.unit) == ("64.99", "mA")  # 6.5 V over 100.01 Ω
    ask(made.instruments["dc"], made, "VOLT 7;:CURR:LIM 0.5")
    advance(made, 1.0)
    high = made.meters["A"].shown(made.now_ns)
    assert high is not None
    assert (high.text, high.unit) == ("0.500", "A")  # up a range: 1 Ω, and the limit acts


@pytest.mark.parametrize(
    ("source", "multimeters", "meters", "message"),
    [
        ("dx", [], [], "no 'dx' on this bench, there is dc, ac"),
        ("dc", ["x"], [], "no 'x' on this bench, there is bench"),
        ("dc", [], ["C"], "no 'C' on this bench, there is A, B"),
    ],
)
def test_names_that_are_not_there(source: str, multimeters: list[str], meters: list[str], message: str) -> None:
    made = bench()
    with pytest.raises(HandError) as caught:
        made.wire("parallel", source, 1, multimeters, meters)
    assert str(caught.value) == message


OHMMETER = {
    "label": "A",
    "noise_digits": 0,
    "positions": [
        {
            "dial": "Ω",
            "jack": "V",
            "measures": "resistance",
            "ranges": [
                {"full_scale": 600.0, "resolution": 0.1, "unit": "Ω", "gain": 0.001},
                {"full_scale": 6e3, "resolution": 1.0, "unit": "kΩ"},
            ],
        },
        {
            "dial": "F",
            "jack": "V",
            "measures": "capacitance",
            "ranges": [{"full_scale": 6e-6, "resolution": 1e-9, "unit": "µF", "offset": 3e-9}],
        },
    ],
}
ARTIFACTS = [
    {"name": "R100", "measures": "resistance", "value": 100.0},
    {"name": "R5k", "measures": "resistance", "value": 5000.2},
    {"name": "C1u", "measures": "capacitance", "value": 1e-6},
]


@pytest.mark.parametrize(
    ("dial", "kind", "artifact", "shows"),
    [
        ("Ω", "alone", "R100", "100.6 Ω"),  # (100 + 0.5) · 1.001, the leads included
        ("Ω", "alone", "R5k", "5.001 kΩ"),  # 5000.7 Ω
        ("Ω", "shorted", "", "0.5 Ω"),
        ("Ω", "open", "", "OL kΩ"),
        ("Ω", "alone", "C1u", "OL kΩ"),
        ("F", "alone", "C1u", "1.003 µF"),
        ("F", "open", "", "0.003 µF"),
        ("F", "shorted", "", "OL µF"),
        ("F", "alone", "R100", "OL µF"),
        ("Ω", "none", "", "OL kΩ"),
    ],
)
def test_what_stands_between_the_leads_of_a_meter_by_itself(dial: str, kind: Wiring, artifact: str, shows: str) -> None:
    made = bench(meters=[OHMMETER], artifacts=ARTIFACTS, lead_ohm=0.5)
    made.wire(kind, "", 1, [], ["A"], artifact)
    made.meters["A"].turn(dial, "", "V", made.now_ns)
    made.refresh()
    advance(made, 1.0)
    shown = made.meters["A"].shown(made.now_ns)
    assert shown is not None
    assert f"{shown.text} {shown.unit}" == shows


def test_an_artifact_that_is_not_there() -> None:
    with pytest.raises(HandError) as caught:
        bench(artifacts=ARTIFACTS).wire("alone", "", 1, [], ["A"], "R1")
    assert str(caught.value) == "no 'R1' on this bench, there is R100, R5k, C1u"


def ohmmeter() -> Bench:
    made = bench(meters=[OHMMETER], artifacts=ARTIFACTS, lead_ohm=0.5)
    made.wire("shorted", "", 1, [], ["A"])
    advance(made, 1.0)
    return made


def reads(on: Bench, artifact: str) -> str:
    on.wire("alone", "", 1, [], ["A"], artifact)
    advance(on, 1.0)
    shown = on.meters["A"].shown(on.now_ns)
    return shown.text if shown else "off"


def test_a_subtracted_zero_takes_the_leads_away_and_holds_the_range() -> None:
    made = ohmmeter()
    made.meters["A"].subtract(True, 0.0, made.now_ns)
    assert reads(made, "R100") == "100.1"  # 100.5 · 1.001 - 0.5 · 1.001
    assert reads(made, "R5k") == "OL"
    made.meters["A"].subtract(False, 0.0, made.now_ns)
    made.refresh()
    assert reads(made, "R100") == "100.6"
    assert reads(made, "R5k") == "5.001"


def test_a_zero_may_be_taken_on_a_range_that_is_held() -> None:
    made = ohmmeter()
    made.meters["A"].subtract(True, 6e3, made.now_ns)
    assert reads(made, "R5k") == "5.000"
    with pytest.raises(HandError, match="no range 7"):
        made.meters["A"].subtract(True, 7.0, made.now_ns)


def test_an_overload_cannot_be_subtracted() -> None:
    made = ohmmeter()
    made.wire("open", "", 1, [], ["A"])
    advance(made, 1.0)
    with pytest.raises(HandError, match="nothing is shown"):
        made.meters["A"].subtract(True, 0.0, made.now_ns)


def test_a_turned_dial_forgets_the_zero() -> None:
    made = ohmmeter()
    made.meters["A"].subtract(True, 0.0, made.now_ns)
    made.meters["A"].turn("F", "", "V", made.now_ns)
    made.meters["A"].turn("Ω", "", "V", made.now_ns)
    made.refresh()
    assert reads(made, "R100") == "100.6"
