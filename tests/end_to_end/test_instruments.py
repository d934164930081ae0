"""`meterjury instruments` as a person starts it."""

import json
from pathlib import Path

import pytest

from tests.drivers.simulated import SimulatedBench
from tests.end_to_end.command import BENCH, meterjury
from tests.simulators.table import CONFIG

VPP = {**CONFIG, "generators": [{**CONFIG["generators"][0], "speaks": "scpi-vpp"}]}


def test_a_bench_without_addresses_is_all_there(tmp_path: Path) -> None:
    done = meterjury(tmp_path, "instruments", "--bench", BENCH)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Simulated bench, on " in done.stdout
    assert "\n  scpi-vpp " in done.stdout


def test_a_bench_whose_instruments_do_not_answer_is_exit_code_4(tmp_path: Path) -> None:
    text = BENCH.read_text(encoding="utf-8").partition("[simulated]")[0]
    reference, _, sources = text.partition('name = "handheld"')
    text = reference.replace("[[reference]]", '[[reference]]\naddress = "TCPIP::127.0.0.1::9::SOCKET"', 1)
    text = text.rpartition("[[reference]]")[0].replace("../models", str(BENCH.parents[1] / "models"))
    assert sources
    (tmp_path / "bench.toml").write_text(text, encoding="utf-8")
    done = meterjury(tmp_path, "instruments", "--bench", "bench.toml", "--json")
    assert done.returncode == 4
    (thing,) = json.loads(done.stdout)["found"]
    assert (thing["name"], thing["usable"]) == ("bench", False)
    assert "Connection refused" in thing["trouble"]


def test_a_person_finds_and_tries_the_words_of_a_generator(tmp_path: Path) -> None:
    bench = SimulatedBench(VPP)
    try:
        address = bench.addresses["ac"]
        asked = meterjury(tmp_path, "instruments", "--try", address)
        assert asked.returncode == 0, asked.stderr
        assert "Suggested: scpi-vpp, as a generator" in asked.stdout
        wrong = meterjury(tmp_path, "instruments", "--try", address, "--dialect", "scpi-1999", "--as", "generator")
        assert wrong.returncode == 4
        assert "  NO  ask            OUTP:LOAD?\n                     no answer\n" in wrong.stdout
        right = meterjury(tmp_path, "instruments", "--try", address, "--dialect", "scpi-vpp")
        assert right.returncode == 0, right.stdout + right.stderr
        assert "OUTP ON" not in right.stdout
        refused = meterjury(
            tmp_path, "instruments", "--try", address, "--dialect", "scpi-vpp", "--with-output", stdin="n\n"
        )
        assert refused.returncode == 6
        assert "Is nothing connected to its output? [y/N]" in refused.stderr
        agreed = meterjury(
            tmp_path, "instruments", "--try", address, "--dialect", "scpi-vpp", "--with-output", "--json", stdin="y\n"
        )
        assert agreed.returncode == 0, agreed.stderr
        said = [word["sent"] for word in json.loads(agreed.stdout)["words"]]
        assert said.index("OUTP ON") < len(said) - 1 - said[::-1].index("OUTP OFF")
        assert not any(bench.do("outputs")["outputs"].values())
    finally:
        bench.end()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--baud", "2400"), "--as, --with-output and --baud go with --try ADDRESS"),
        (("--try", "x", "--network"), "--try and --dialect look at one instrument"),
        (("--try", "x", "--with-output"), "--as and --with-output go with --dialect FILE"),
        (("--try", "x", "--dialect", "scpi-vp"), 'did you mean "scpi-vpp"?'),
        (("--try", "x", "--dialect", "mine.toml"), "mine.toml, which does not exist"),
        (("--bench", "nowhere.toml"), "nowhere.toml, which does not exist"),
    ],
)
def test_mistyped_words_are_answered_in_words(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    done = meterjury(tmp_path, "instruments", *words)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_an_address_that_is_none_says_what_one_looks_like(tmp_path: Path) -> None:
    done = meterjury(tmp_path, "instruments", "--try", "x")
    assert done.returncode == 4
    assert 'an address looks like "TCPIP::192.0.2.10::5025::SOCKET"' in done.stderr


def test_a_shipped_dialect_is_printed_to_begin_with_and_a_file_is_checked(tmp_path: Path) -> None:
    shown = meterjury(tmp_path, "instruments", "--dialect", "scpi-vpp")
    assert (shown.returncode, shown.stderr) == (0, "scpi-vpp: no faults; words for a generator\n")
    (tmp_path / "mine.toml").write_text(shown.stdout, encoding="utf-8")
    again = meterjury(tmp_path, "instruments", "--dialect", "mine.toml", "--json")
    assert json.loads(again.stdout)["text"] == shown.stdout
    (tmp_path / "mine.toml").write_text(shown.stdout.replace("OUTP?", "OUTP"), encoding="utf-8")
    faulty = meterjury(tmp_path, "instruments", "--dialect", "mine.toml")
    assert (faulty.returncode, faulty.stdout) == (2, "")
    assert 'generator.output.ask: got "OUTP", accepted: a question' in faulty.stderr
