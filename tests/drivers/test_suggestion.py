"""Which dialect is suggested for an instrument: for one made of a dialect's own words, that dialect."""

import pytest

from drivers.suggestion import fits
from sequencer.definitions.dialects import shipped_dialect, shipped_dialects
from sequencer.values.dialect import Dialect, Role
from tests.drivers.pretend import Device, dc_source, generator, multimeter

DIALECTS = [shipped_dialect(name) for name in shipped_dialects()]


def pretended(dialect: Dialect, role: Role) -> Device:
    if role == "multimeter":
        assert dialect.multimeter
        return multimeter(dialect.multimeter)
    if role == "dc source":
        assert dialect.dc_source
        return dc_source(dialect.dc_source)
    assert dialect.generator
    return generator(dialect.generator)


def with_settings(device: Device) -> Device:
    """Every question that a setting answers has an answer from the beginning, as on a device that was reset."""
    for question in device.settings.values():
        device.values.setdefault(question, "+1.0E+00")
    return device


@pytest.mark.parametrize(
    ("dialect", "role"),
    [pytest.param(dialect, role, id=f"{dialect.name} {role}") for dialect in DIALECTS for role in dialect.roles],
)
def test_a_device_of_a_dialect_gets_it_suggested_and_is_asked_only(dialect: Dialect, role: Role) -> None:
    device = with_settings(pretended(dialect, role))
    link = device.link()
    best = fits(link, DIALECTS)[0]
    assert (best.dialect, best.role, best.is_whole, best.lacks) == (dialect.name, role, True, ())
    assert all(line.endswith("?") for line in link.written if line != dialect.common.clear)
    assert len(link.written) == len(set(link.written)), "nothing is asked twice"


def test_functions_that_a_multimeter_lacks_do_not_count_against_it() -> None:
    dialect = shipped_dialect("scpi-1999")
    device = with_settings(pretended(dialect, "multimeter"))
    device.silent |= {"VOLT:AC:RANG?", "VOLT:AC:NPLC?"}
    best = fits(device.link(), DIALECTS)[0]
    assert (best.dialect, best.is_whole, best.lacks) == ("scpi-1999", True, ("ac voltage",))


def test_a_device_of_no_dialect_gets_the_nearest_and_no_promise() -> None:
    device = with_settings(pretended(shipped_dialect("scpi-1999"), "generator"))
    device.silent |= {"OUTP:LOAD?", "FREQ?"}
    best = fits(device.link(), [shipped_dialect("scpi-1999")])[0]
    assert (best.role, best.answered, best.questions, best.is_whole) == ("generator", 3, 5, False)


def test_a_device_without_any_function_is_no_multimeter() -> None:
    device = with_settings(pretended(shipped_dialect("scpi-vpp"), "generator"))
    (fit,) = fits(device.link(), [shipped_dialect("scpi-configure")])
    assert (fit.is_whole, fit.lacks) == (False, ())
