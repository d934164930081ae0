"""Checks between tables and between files: names that must exist, and names that must not come twice.

They work on the files as parsed, so that a fault in one table does not hide one in another.
"""

from collections.abc import Iterator
from typing import Any

from sequencer.definitions.documents import Document
from sequencer.definitions.faults import close_match
from sequencer.definitions.places import Path
from sequencer.errors import Fault
from sequencer.values.bench import INSTRUMENT_FAULTS, UNIT_FAULTS, Bench
from sequencer.values.measure import UNITS, VOLTAGE_OF
from sequencer.values.model import MeterModel
from sequencer.values.plan import Plan


def model_faults(document: Document) -> Iterator[Fault]:
    """Jacks named twice, and functions whose jack the model does not have, if it lists its jacks at all."""
    yield from _twice(document, "jack", "name")
    jacks = _names(document, "jack", "name")
    for index, function in document.tables("function") if jacks else ():
        yield from _unknown(document, ("function", index, "jack"), function.get("jack"), jacks, "a jack of this model")


def plan_faults(document: Document) -> Iterator[Fault]:
    """Labels that come twice, and sweeps for units that the plan does not have."""
    yield from _twice(document, "unit", "label")
    labels = _names(document, "unit", "label")
    for table in ("sweep", "derived"):
        for index, entry in document.tables(table):
            units = entry.get("units")
            for place, label in enumerate(units if isinstance(units, list) else []):
                yield from _unknown(document, (table, index, "units", place), label, labels, "the label of a unit")


def bench_faults(document: Document) -> Iterator[Fault]:
    """Names that come twice; devices without an address on a bench that is not simulated."""
    yield from _twice(document, "reference", "name")
    yield from _twice(document, "source", "name", taken=_names(document, "reference", "name"))
    taken = (*_names(document, "reference", "name"), *_names(document, "source", "name"))
    yield from _twice(document, "artifact", "name", taken=taken)
    yield from _twice(document, "shunt", "name", taken=(*taken, *_names(document, "artifact", "name")))
    yield from _loop_faults(document)
    if "simulated" in document.data:
        yield from _things_twice(document)
        yield from _impossible_mishaps(document)
        return
    devices = [("reference", index, entry) for index, entry in document.tables("reference")]
    devices += [("source", index, entry) for index, entry in document.tables("source")]
    for kind, index, entry in devices:
        by_eye = entry.get("driver") == "keyed" or entry.get("kind") == "by hand"
        if not by_eye and not entry.get("address"):
            yield document.fault(
                (kind, index, "address"), "nothing", 'a VISA address such as "TCPIP::192.0.2.10::5025::SOCKET"'
            )
    for label, entry in _port_tables(document):
        if not entry.get("address"):
            yield document.fault(
                ("port", label, "address"), "nothing", 'a VISA address such as "ASRL/dev/ttyUSB0::INSTR"'
            )


def _believed_sources(document: Document) -> tuple[str, ...]:
    """Names of the sources whose setting may be believed."""
    return tuple(str(entry.get("name")) for _, entry in document.tables("source") if "model" in entry)


def _loop_faults(document: Document) -> Iterator[Fault]:
    """Resistors in loops that the bench does not have, or whose rating it does not give."""
    rated = {
        entry.get("name"): entry for _, entry in document.tables("artifact") if entry.get("measures") == "resistance"
    }
    named = [(("source", index, "series_resistor"), entry) for index, entry in document.tables("source")]
    named += [(("shunt", index, "resistor"), entry) for index, entry in document.tables("shunt")]
    for path, entry in named:
        name = entry.get(path[-1])
        known = tuple(str(one) for one in rated)
        yield from _unknown(document, path, name, known, "an artifact of resistance")
        there = rated.get(name.strip()) if isinstance(name, str) else None
        if there is not None and "max_current" not in there:
            accepted = "an artifact with max_current"
            yield document.fault(path, f'"{name}"', accepted, "say how much current may be sent through it")
        elif there is not None and path[0] == "shunt" and "uncertainty" not in there:
            yield document.fault(path, f'"{name}"', "an artifact with a certificate: its uncertainty")
    known = _names(document, "reference", "name")
    for table, key in (("shunt", "voltmeter"), ("artifact", "read_by")):
        for index, entry in document.tables(table):
            yield from _unknown(document, (table, index, key), entry.get(key), known, "a reference")
    yield from _four_wire_faults(document)


def _four_wire_faults(document: Document) -> Iterator[Fault]:
    """Four leads where no dialect has the words, or where nobody reads the artifact."""
    drivers = {entry.get("name"): entry.get("driver", "scpi") for _, entry in document.tables("reference")}
    for index, entry in document.tables("artifact"):
        if entry.get("four_wire") is True and drivers.get(entry.get("read_by")) != "keyed":
            accepted = "false: only of a reference that is read by eye can four leads be asked for"
            yield document.fault(("artifact", index, "four_wire"), "true", accepted)


def shunt_faults(document: Document, bench: Bench, models: dict[str, MeterModel]) -> Iterator[Fault]:
    """Voltmeters of shunts that do not measure the voltage."""
    voltmeters = {reference.name: models[reference.model_file] for reference in bench.references}
    for index, entry in document.tables("shunt"):
        model = voltmeters[str(entry["voltmeter"]).strip()]
        measured = {function.measures for function in model.functions}
        for place, cover in enumerate(entry["covers"]):
            if (voltage := VOLTAGE_OF[cover["measure"]]) not in measured:
                path: Path = ("shunt", index, "covers", place, "measure")
                accepted = f"a measure whose {voltage} {model.name} measures"
                yield document.fault(path, f'"{cover["measure"]}"', accepted)


def _things_twice(document: Document) -> Iterator[Fault]:
    things = document.at(("simulated", "thing"))
    seen: set[str] = set()
    for index, thing in enumerate(things if isinstance(things, list) else []):
        label = thing.get("label") if isinstance(thing, dict) else None
        if isinstance(label, str) and label in seen:
            yield document.fault(("simulated", "thing", index, "label"), f'"{label}" again', "every label once")
        elif isinstance(label, str):
            seen.add(label)


def _impossible_mishaps(document: Document) -> Iterator[Fault]:
    """Mishaps that cannot happen to that kind of thing; what is no mishap at all is a fault of its own."""
    instruments = {
        entry.get("name") for _, entry in document.tables("reference") if entry.get("driver", "scpi") == "scpi"
    }
    instruments |= {entry.get("name") for _, entry in document.tables("source")}
    things = document.at(("simulated", "thing"))
    for index, thing in enumerate(things if isinstance(things, list) else []):
        mishaps = thing.get("faults") if isinstance(thing, dict) else None
        for place, mishap in enumerate(mishaps if isinstance(mishaps, list) else []):
            what = mishap.get("what") if isinstance(mishap, dict) else None
            kind, accepted = (
                ("an instrument", INSTRUMENT_FAULTS) if thing.get("label") in instruments else ("a meter", UNIT_FAULTS)
            )
            if what in (*INSTRUMENT_FAULTS, *UNIT_FAULTS) and what not in accepted:
                path: Path = ("simulated", "thing", index, "faults", place, "what")
                yield document.fault(path, f'"{what}"', f"for {kind}: {', '.join(accepted)}")


def pair_faults(plan: Document, bench: Document) -> Iterator[Fault]:
    """Ports of units that the plan does not have, and sweeps for devices that the bench does not have."""
    labels = _names(plan, "unit", "label")
    sources = _names(bench, "source", "name")
    references = (*_names(bench, "reference", "name"), *_names(bench, "shunt", "name"), *_believed_sources(bench))
    for label, _ in _port_tables(bench):
        if label not in labels:
            hint = close_match(label, labels)
            accepted = "the label of a unit of the plan" + (f": {', '.join(labels)}" if labels else "")
            yield bench.fault(("port", label), f'"{label}"', accepted, hint, at_key=True)
    for table in ("sweep", "derived"):
        for index, entry in plan.tables(table):
            for key, known in (("reference", references), ("source", sources)):
                yield from _unknown(plan, (table, index, key), entry.get(key), known, f"a {key} of the bench")
    resistors = _names(bench, "artifact", "name")
    for index, entry in plan.tables("derived"):
        path = ("derived", index, "resistor")
        yield from _unknown(plan, path, entry.get("resistor"), resistors, "an artifact of the bench")


def thing_faults(document: Document, plan: Plan, bench: Bench, models: dict[str, MeterModel]) -> Iterator[Fault]:
    """True errors on ranges or dial positions that the thing's model does not have."""
    of_thing = {unit.label: models[unit.model_file] for unit in plan.units}
    of_thing |= {reference.name: models[reference.model_file] for reference in bench.references}
    for index, thing in enumerate(bench.simulated.things if bench.simulated else ()):
        model = of_thing.get(thing.label)
        for place, error in enumerate(thing.errors if model else ()):
            functions = (
                [function for function in model.functions if function.measures == error.measures] if model else []
            )
            path: Path = ("simulated", "thing", index, "errors", place)
            dials = tuple(function.dial for function in functions)
            if error.dial and error.dial not in dials:
                got = f'"{error.dial}"'
                accepted = f"a dial position for {error.measures}: {', '.join(dials)}"
                yield document.fault((*path, "dial"), got, accepted, close_match(error.dial, dials))
            rows = [row for function in functions for row in function.rows if error.dial in ("", function.dial)]
            if error.full_scale is None or any(abs(row.full_scale / error.full_scale - 1) < 1e-9 for row in rows):
                continue
            printed = ", ".join(dict.fromkeys(row.printed for row in rows)) or f"none in {UNITS[error.measures]}"
            got = f'"{document.at((*path, "range"))}"'
            accepted = f"a range of {model.name if model else ''} for {error.measures}: {printed}"
            yield document.fault((*path, "range"), got, accepted)


def correction_faults(document: Document, bench: Bench, models: dict[str, MeterModel]) -> Iterator[Fault]:
    """Corrections on ranges that the reference's model does not have."""
    for index, reference in enumerate(bench.references):
        model = models[reference.model_file]
        for place, one in enumerate(reference.corrections):
            rows = [row for function in model.functions if function.measures == one.measure for row in function.rows]
            if any(abs(row.full_scale / one.full_scale - 1) < 1e-9 for row in rows):
                continue
            path: Path = ("reference", index, "corrections", place, "range")
            printed = ", ".join(dict.fromkeys(row.printed for row in rows)) or f"none in {UNITS[one.measure]}"
            accepted = f"a range of {model.name} for {one.measure}: {printed}"
            yield document.fault(path, f'"{document.at(path)}"', accepted)


def _port_tables(document: Document) -> list[tuple[str, dict[str, Any]]]:
    found = document.data.get("port")
    return [
        (label, entry) for label, entry in (found if isinstance(found, dict) else {}).items() if isinstance(entry, dict)
    ]


def _names(document: Document, table: str, key: str) -> tuple[str, ...]:
    names = (entry[key].strip() for _, entry in document.tables(table) if isinstance(entry.get(key), str))
    return tuple(dict.fromkeys(names))


def _twice(document: Document, table: str, key: str, taken: tuple[str, ...] = ()) -> Iterator[Fault]:
    seen = set(taken)
    for index, entry in document.tables(table):
        name = entry.get(key)
        if not isinstance(name, str):
            continue
        if name.strip() in seen:
            yield document.fault((table, index, key), f'"{name}" again', f"every {key} once")
        seen.add(name.strip())


def _unknown(document: Document, path: Path, name: Any, known: tuple[str, ...], what: str) -> Iterator[Fault]:
    if not isinstance(name, str) or not name or name.strip() in known:
        return
    accepted = what + (f": {', '.join(known)}" if known else ", of which there are none")
    yield document.fault(path, f'"{name}"', accepted, close_match(name, known))
