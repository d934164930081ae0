import pytest

from drivers import registry
from drivers.frames import PortFormat
from drivers.registry import available, look_up, register, register_unavailable, unavailable
from sequencer.errors import InputError
from sequencer.values.dialect import DcSourceWords, GeneratorWords, MultimeterWords


@pytest.fixture
def spare(monkeypatch: pytest.MonkeyPatch) -> None:
    """Entries that a test makes are gone after it."""
    available("port")
    monkeypatch.setattr(registry, "_entries", dict(registry._entries))
    monkeypatch.setattr(registry, "_reasons", dict(registry._reasons))


def test_every_kind_has_an_entry_of_its_class() -> None:
    assert isinstance(look_up("multimeter", "scpi-1999", MultimeterWords), MultimeterWords)
    assert isinstance(look_up("dc source", "scpi-1999", DcSourceWords), DcSourceWords)
    assert isinstance(look_up("generator", "scpi-1999", GeneratorWords), GeneratorWords)
    assert isinstance(look_up("port", "lines", PortFormat), PortFormat)


@pytest.mark.usefixtures("spare")
def test_a_name_is_taken_once_for_each_kind() -> None:
    register("port", "spare", 1)
    register("generator", "spare", 1)
    with pytest.raises(ValueError, match="port 'spare' is registered twice"):
        register("port", "spare", 2)
    with pytest.raises(ValueError, match="port 'spare' is registered twice"):
        register_unavailable("port", "spare", "no library")


def test_an_unknown_name_is_answered_with_the_nearest() -> None:
    with pytest.raises(InputError) as caught:
        look_up("multimeter", "scpi-1998", MultimeterWords)
    assert str(caught.value) == (
        "dialect of a multimeter: got 'scpi-1998', accepted: scpi-1999\n  hint: did you mean 'scpi-1999'?"
    )


def test_a_name_that_resembles_nothing_gets_the_list_alone() -> None:
    with pytest.raises(InputError) as caught:
        look_up("port", "zzz", PortFormat)
    assert str(caught.value) == f"format of a port: got 'zzz', accepted: {', '.join(available('port'))}"


@pytest.mark.usefixtures("spare")
def test_what_cannot_be_used_says_why() -> None:
    register_unavailable("port", "infrared", "the library that it needs is missing")
    assert unavailable("port") == {"infrared": "the library that it needs is missing"}
    assert "infrared" not in available("port")
    with pytest.raises(InputError, match="port 'infrared' cannot be used here: the library that it needs is missing"):
        look_up("port", "infrared", PortFormat)


@pytest.mark.usefixtures("spare")
def test_an_entry_of_another_class_is_a_fault_of_the_program() -> None:
    register("port", "wrong", "text")
    with pytest.raises(TypeError, match="port 'wrong' is registered as a str, not a PortFormat"):
        look_up("port", "wrong", PortFormat)
