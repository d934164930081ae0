"""Fixtures for every test: texts held against golden files, which one option rewrites."""

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

OPTION = "--rewrite-golden"

# The same examples every time, and no example is failed for being slow.
settings.register_profile("repeatable", derandomize=True, deadline=None, database=None)
settings.load_profile("repeatable")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(OPTION, action="store_true", help="write golden files anew instead of comparing with them")


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """Compare a text with `golden/NAME` beside the test, or write that file with --rewrite-golden."""
    folder = Path(str(request.path)).parent / "golden"
    rewrite = bool(request.config.getoption(OPTION))

    def compare(text: str, name: str) -> None:
        path = folder / name
        if rewrite:
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
        assert path.is_file(), f"{path.name} is missing; {OPTION} writes it"
        assert text == path.read_text(encoding="utf-8"), f"differs from golden/{name}; {OPTION} rewrites it"

    return compare
