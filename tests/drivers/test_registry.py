import pytest

from drivers import registry
from drivers.frames import PortFormat
from drivers.registry import available, look_up, register, register_unavailable, unavailable
from sequencer.errors import InputError


@pytest.fixture
def spare(monkeypatch: pytest.MonkeyPatch) -> None:
    """Entries that a test makes are gone after it."""
    available()
    monkeypatch.setattr(registry, "_entries", dict(registry._entries))
    monkeypatch.setattr(registry, "_reasons", dict(registry._reasons))


def test_a_shipped_format_is_found_by_its_name() -> None:
    assert isinstance(look_up("lines"), PortFormat)


@pytest.mark.usefixtures("spare")
def test_a_name_is_taken_once() -> None:
    register("spare", look_up("lines"))
    with pytest.raises(ValueError, match="format 'spare' is registered twice"):
        register("spare", look_up("lines"))
    with pytest.raises(ValueError, match="format 'spare' is registered twice"):
        register_unavailable("spare", "no library")


def test_an_unknown_name_is_answered_with_the_nearest() -> None:
    with pytest.raises(InputError) as caught:
        look_up("line")
    known = ", ".join(available())
    assert str(caught.value) == f"format of a port: got 'line', accepted: {known}\n  hint: did you mean 'lines'?"


def test_a_name_that_resembles_nothing_gets_the_list_alone() -> None:
    with pytest.raises(InputError) as caught:
        look_up("zzz")
    assert str(caught.value) == f"format of a port: got 'zzz', accepted: {', '.join(available())}"


@pytest.mark.usefixtures("spare")
def test_what_cannot_be_used_says_why() -> None:
    register_unavailable("infrared", "the library that it needs is missing")
    assert unavailable() == {"infrared": "the library that it needs is missing"}
    assert "infrared" not in available()
    with pytest.raises(InputError, match="'infrared' of a port cannot be used here: the library that it needs is mis"):
        look_up("infrared")
