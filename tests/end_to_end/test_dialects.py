"""A run on a bench whose instruments speak other dialects, one of them from a file of a person's own."""

from pathlib import Path

from tests.end_to_end.command import meterjury, rendered, small_plan

MORE = """
[[sweep]]
measure = "ac voltage"
points = ["1 V"]
frequency = "400 Hz"

[[sweep]]
measure = "dc current"
points = ["2 mA"]
"""


def test_a_run_reads_the_same_in_other_words(tmp_path: Path) -> None:
    plan = small_plan(tmp_path, "1 V")
    plan.write_text(plan.read_text(encoding="utf-8") + MORE, encoding="utf-8")
    bench = plan.parent / "benches" / "simulated.toml"
    text = bench.read_text(encoding="utf-8").replace("bipolar = true", "bipolar = false")
    text = text.replace('driver = "scpi"', 'driver = "scpi"\ndialect = "scpi-configure"')
    text = text.replace('kind = "dc source"', 'kind = "dc source"\ndialect = "scpi-supply"\nremote_sense = true')
    bench.write_text(text.replace('kind = "generator"', 'kind = "generator"\ndialect = "mine.toml"'), encoding="utf-8")
    mine = bench.with_name("mine.toml")
    mine.write_text(meterjury(tmp_path, "instruments", "--dialect", "scpi-vpp").stdout, encoding="utf-8")
    done = meterjury(tmp_path, "run", plan, "--bench", bench)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "ac is simulated: it speaks scpi-1999 in place of benches/mine.toml" in done.stderr
    mine.unlink()
    points = rendered(tmp_path)["points"]
    assert [point["statement"] for point in points] == ["pass"] * 3, "the file is in the record"

    bench.write_text(bench.read_text(encoding="utf-8").replace("mine.toml", "scpi-vpp"), encoding="utf-8")
    again = meterjury(tmp_path, "run", plan, "--bench", bench)
    assert again.returncode == 0, again.stdout + again.stderr
    assert "in place of" not in again.stderr
    assert [point["statement"] for point in rendered(tmp_path)["points"]] == ["pass"] * 3
