"""A voltmeter across a certified resistor as a reference for a current: its table of volts divided by the ohms.

What a manual promises in volts is the same promise in amperes when ranges, digits and constants are divided by the
resistance; what the certificate says of the resistor comes on top.
"""

from dataclasses import replace

from sequencer.judging.loading import beside
from sequencer.values.accuracy import Accuracy, Level
from sequencer.values.bench import Artifact, Correction, Cover, Reference, Shunt
from sequencer.values.measure import VOLTAGE_OF
from sequencer.values.model import Function, MeterModel, Row

_CURRENT_OF = {voltage: current for current, voltage in VOLTAGE_OF.items()}


def shunt_reference(
    name: str, covers: tuple[Cover, ...], voltmeter: Reference, model: MeterModel, resistor: Artifact
) -> tuple[Reference, MeterModel]:
    """A reference for currents, and the model that goes with it.

    Args:
        name: Name of the shunt.
        covers: What it is used for.
        voltmeter: The reference that reads it.
        model: The voltmeter's model.
        resistor: The certified resistor.

    Returns:
        (reference with the driver `shunt`, its model with the voltmeter's tables in amperes).

    Source: Ohm's law; GUM (JCGM 100:2008) 5.1.6 for relative uncertainties of a quotient.
    """
    wanted = {VOLTAGE_OF[cover.measure] for cover in covers if cover.measure in VOLTAGE_OF}
    inputs = [one.input_ohm for one in model.functions if one.measures in wanted and one.input_ohm is not None]
    ohm = beside(resistor.value, min(inputs)) if inputs else resistor.value
    shunt = Shunt(
        voltmeter=voltmeter.name,
        resistor=resistor.name,
        ohm=ohm,
        share=resistor.uncertainty / resistor.coverage / resistor.value,
    )
    reference = replace(
        voltmeter,
        name=name,
        driver="shunt",
        model_file=f"{voltmeter.model_file} across {resistor.name}",
        covers=covers,
        corrections=tuple(_divided(one, ohm) for one in voltmeter.corrections if one.measure in _CURRENT_OF),
        shunt=shunt,
    )
    functions = tuple(_in_amperes(one, ohm, resistor.name) for one in model.functions if one.measures in _CURRENT_OF)
    return reference, replace(model, name=f"{model.name} across {resistor.name}", functions=functions)


def _divided(correction: Correction, ohm: float) -> Correction:
    return replace(
        correction,
        measure=_CURRENT_OF[correction.measure],
        full_scale=correction.full_scale / ohm,
        at=correction.at / ohm,
        correction=correction.correction / ohm,
        uncertainty=correction.uncertainty / ohm,
    )


def _in_amperes(function: Function, ohm: float, resistor: str) -> Function:
    outside = function.outside
    return replace(
        function,
        measures=_CURRENT_OF[function.measures],
        rows=tuple(_row(row, ohm, resistor) for row in function.rows),
        volt_hertz=None if function.volt_hertz is None else function.volt_hertz / ohm,
        outside=_accuracy(outside, ohm) if isinstance(outside, Accuracy) else outside,
        add=tuple(replace(one, accuracy=_accuracy(one.accuracy, ohm)) for one in function.add),
    )


def _row(row: Row, ohm: float, resistor: str) -> Row:
    return replace(
        row,
        printed=f"{row.printed} across {resistor}",
        full_scale=row.full_scale / ohm,
        resolution=row.resolution / ohm,
        display_to=row.display_to / ohm,
        at_least=_level(row.at_least, ohm),
        at_most=_level(row.at_most, ohm),
        accuracy=None if row.accuracy is None else _accuracy(row.accuracy, ohm),
        intervals=tuple(replace(one, accuracy=_accuracy(one.accuracy, ohm)) for one in row.intervals),
        burden_ohm=ohm,
    )


def _level(level: Level | None, ohm: float) -> Level | None:
    return level if level is None or level.relative else replace(level, value=level.value / ohm)


def _accuracy(accuracy: Accuracy, ohm: float) -> Accuracy:
    return replace(accuracy, constant=accuracy.constant / ohm, constant_unit="A" if accuracy.constant_unit else "")
