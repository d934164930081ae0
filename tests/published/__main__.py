"""Prints how many comparisons with published values each file of this folder makes, and in how many tests.

A comparison is an assertion that passed and whose text holds a number or an `approx`; one over a list counts once, and
properties held by random values do not count.
Run from the top folder: `python -m tests.published`.
"""

import sys
import tempfile
from collections import Counter
from pathlib import Path

import pytest


class Comparisons:
    """Counts the assertions that pass, by file."""

    def __init__(self) -> None:
        self.passed: Counter[str] = Counter()
        self.tests: Counter[str] = Counter()

    def pytest_assertion_pass(self, item: pytest.Item, lineno: int, orig: str, expl: str) -> None:
        if item.get_closest_marker("hypothesis"):
            return
        if "approx" in orig or any(character.isdigit() for character in orig):
            self.passed[item.path.name] += 1

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.when == "call" and report.passed:
            self.tests[Path(report.fspath).name] += 1


def main() -> int:
    """Run the folder and print the table; the exit code is that of the tests."""
    found = Comparisons()
    with tempfile.TemporaryDirectory() as fresh:
        # Assertions must be rewritten anew to be counted.
        sys.pycache_prefix = fresh
        options = ["-q", "-p", "no:randomly", "-o", "enable_assertion_pass_hook=true"]
        code = pytest.main(["-n", "0", str(Path(__file__).parent), *options], plugins=[found])
    for name in sorted(found.tests):
        print(f"{name:32} {found.passed[name]:5} comparisons in {found.tests[name]:4} tests")
    print(f"{'all':32} {found.passed.total():5} comparisons in {found.tests.total():4} tests")
    return int(code)


if __name__ == "__main__":
    sys.exit(main())
