"""What a person sees of instruments."""

from collections.abc import Callable
from datetime import date

from sequencer.definitions.dialects import shipped_dialect
from sequencer.reports.instruments import (
    fits_json,
    fits_text,
    pace_lines,
    survey_json,
    survey_text,
    tried_heading,
    tried_json,
    tried_summary,
)
from sequencer.values.instruments import CalibrationStatus, Fit, Found, Pace, Survey, Unseen, Visible

ON = date(2026, 11, 25)
DIALECTS = (shipped_dialect("scpi-supply"), shipped_dialect("scpi-vpp"))
ADDRESS = "TCPIP::192.0.2.12::5025::SOCKET"
IDENTITY = "METERJURY,SIMULATED FUNCTION GENERATOR,1,0"

SURVEY = Survey(
    visible=(
        Visible(address="ASRL/dev/ttyUSB0::INSTR", what="serial, optical adapter"),
        Visible(address="ASRL/dev/ttyUSB1::INSTR", what="serial", trouble="you may not use it: join `dialout`"),
    ),
    unseen=(
        Unseen(interface="USB", why="a library is missing", hint="pip install pyusb"),
        Unseen(interface="network", why="not asked: a search sends a broadcast to every machine there"),
    ),
    bench="The workshop's table",
    found=(
        Found(
            name="bench",
            role="reference",
            address="TCPIP::192.0.2.10::5025::SOCKET",
            dialect="scpi-1999",
            identity="METERJURY,SIMULATED MULTIMETER,1,0",
            calibration=CalibrationStatus(calibrated=date(2026, 3, 9), age_days=261, interval="1 y"),
        ),
        Found(
            name="old",
            role="reference",
            identity="read by eye",
            calibration=CalibrationStatus(calibrated=date(2024, 3, 9), age_days=991, interval="1 y", is_overdue=True),
        ),
        Found(name="new", role="reference", identity="read by eye", calibration=CalibrationStatus(calibrated=None)),
        Found(
            name="ac",
            role="generator",
            address=ADDRESS,
            dialect="scpi-vpp",
            trouble="query '*IDN?': Connection refused",
            hint="nothing listens there: see that the device is on and the port number is right",
        ),
        Found(
            name="R1",
            role="artifact",
            calibration=CalibrationStatus(calibrated=date(2026, 12, 1), age_days=-6),
        ),
    ),
)

PACES = (
    Pace(key="common.identify", sent="*IDN?", answer=IDENTITY, errors=None),
    Pace(key="common.next_error", sent="SYST:ERR?", answer='0,"No error"'),
    Pace(key="generator.output.off", sent="OUTP OFF", errors=None),
    Pace(key="generator.set_amplitude", sent="VOLT 0.1", errors=("-222 Data out of range",)),
    Pace(key="generator.ask_amplitude", sent="VOLT?", answer="+5.0E-03", trouble="0.1 was set"),
    Pace(key="generator.load.ask", sent="OUTP:LOAD?", trouble="no answer"),
    Pace(
        key="multimeter.function[0].ask_range", sent="RANG?", answer="12", note="10 was asked for", about="dc voltage"
    ),
)


def test_a_survey_on_the_screen(golden: Callable[[str, str], None]) -> None:
    text = survey_text(SURVEY, DIALECTS, ON)
    assert max(map(len, text.splitlines())) <= 80
    golden(text + "\n", "survey.txt")


def test_a_survey_without_a_bench_ends_with_the_dialects() -> None:
    alone = survey_text(Survey(visible=(), unseen=()), DIALECTS, ON)
    assert alone.splitlines()[:2] == ["Addresses that this computer sees", "  none"]
    assert alone.splitlines()[-1].startswith("  scpi-vpp ")


def test_a_survey_for_programs() -> None:
    found = survey_json(SURVEY, DIALECTS, ON)
    assert [thing["usable"] for thing in found["found"]] == [True, True, True, False, True]
    assert found["found"][0]["calibration"] == {
        "calibrated": "2026-03-09",
        "age_days": 261,
        "column": "1 y",
        "overdue": False,
    }
    assert found["found"][2]["calibration"]["calibrated"] is None
    assert found["found"][3]["calibration"] is None
    assert found["dialects"][1]["roles"] == ["generator"]


def test_words_tried_on_the_screen(golden: Callable[[str, str], None]) -> None:
    lines = [tried_heading(ADDRESS, IDENTITY, "mine.toml", "generator")]
    lines += [pace_lines(pace, before) for before, pace in zip((None, *PACES), PACES, strict=False)]
    lines.append(tried_summary(PACES, "mine.toml", is_source=True))
    golden("\n".join(lines) + "\n", "paces.txt")


def test_words_that_were_all_understood_end_with_what_to_write() -> None:
    assert tried_summary(PACES[1:2], "mine.toml", is_source=False).splitlines() == [
        "",
        "1 words said, 1 understood and answered.",
        'Next: dialect = "mine.toml" for this device in the bench file.',
    ]


def test_words_tried_for_programs() -> None:
    found = tried_json(ADDRESS, IDENTITY, "mine.toml", "generator", PACES)
    assert [word["good"] for word in found["words"]] == [True, True, True, False, False, False, True]
    assert found["words"][0]["errors"] is None
    assert found["words"][3]["errors"] == ["-222 Data out of range"]


FITS = (
    Fit(dialect="scpi-1999", role="dc source", questions=6, answered=6),
    Fit(dialect="scpi-1999", role="multimeter", questions=5, answered=3, lacks=("ac voltage", "resistance")),
)


def test_a_suggestion_says_how_to_go_on() -> None:
    text = fits_text(ADDRESS, IDENTITY, FITS)
    assert "  scpi-1999        multimeter   3 of 5, without ac voltage, resistance" in text
    assert text.splitlines()[-2:] == [
        "Suggested: scpi-1999, as a dc source",
        f'Next: meterjury instruments --try {ADDRESS} --dialect scpi-1999 --as "dc source"',
    ]
    assert fits_json(ADDRESS, IDENTITY, FITS)["fits"][1]["lacks"] == ["ac voltage", "resistance"]


def test_without_a_whole_fit_nothing_is_suggested() -> None:
    text = fits_text(ADDRESS, IDENTITY, FITS[1:])
    assert "Suggested" not in text
    assert "No dialect fits wholly" in text
