"""The bench: every instrument and meter, the circuit between them, and the one clock.

Whatever changes, changes here: a setting, a wire, a dial, the time. After each change the circuit is worked out again
and every sensor told what it settles to. Time moves through `move_to` alone.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from simulators.circuit import Element, Load, Output, Solution, Wiring, solve
from simulators.config import ArtifactSettings, BenchSettings
from simulators.dc_source import DcSource
from simulators.generator import Generator
from simulators.meter import HandError, Meter
from simulators.multimeter import Multimeter
from simulators.ports import Wire
from simulators.signals import Signal

_PASSES = 8
"""A burden changes the current, which may change a range and its burden: so often at most, then it stands."""


_NOTHING = Solution()


class Bench:
    """Everything on the table.

    Attributes:
        now_ns: The clock in nanoseconds since the start.
        wires: What the meters with a data port send through, by label.
        switched: Is told when an output changes between on and off.
    """

    def __init__(self, settings: BenchSettings) -> None:
        self.settings = settings
        self.now_ns = 0
        self.wires: dict[str, Wire] = {}
        self.switched: Callable[[str, bool], None] = lambda name, is_on: None
        self._are_on: dict[str, bool] = {}
        self._wiring: Wiring = "none"
        self._polarity = 1
        self._wired_source = ""
        self._wired: tuple[str, ...] = ()
        self._element: Element | None = None
        self._resistors: tuple[str, ...] = ()
        self._across: dict[str, str] = {}
        self._through: dict[str, float] = {}
        self.multimeters: dict[str, Multimeter] = {}
        self.sources: dict[str, DcSource | Generator] = {}
        self.meters: dict[str, Meter] = {}
        for multimeter in settings.multimeters:
            self.multimeters[multimeter.name] = Multimeter(multimeter, self)
        for dc_source in settings.dc_sources:
            self.sources[dc_source.name] = DcSource(dc_source, self)
        for generator in settings.generators:
            self.sources[generator.name] = Generator(generator, self)
        for meter in settings.meters:
            self.meters[meter.label] = Meter(meter)
        self._dc_sources = [each for each in self.sources.values() if isinstance(each, DcSource)]
        self._sensing: dict[str, Multimeter | Meter] = {**self.multimeters, **self.meters}
        self.refresh()

    @property
    def instruments(self) -> dict[str, Multimeter | DcSource | Generator]:
        """All instruments by name."""
        return {**self.multimeters, **self.sources}

    def wire(
        self,
        kind: Wiring,
        source: str,
        polarity: int,
        multimeters: Sequence[str],
        meters: Sequence[str],
        artifact: str = "",
        *,
        resistor: str = "",
        across: Mapping[str, str] | None = None,
        through: Mapping[str, str] | None = None,
    ) -> None:
        """Take all leads off and connect anew.

        Args:
            kind: How things are connected.
            source: Which source; empty for none.
            polarity: -1 where its leads are swapped.
            multimeters, meters: What is connected.
            artifact: What one meter is alone on.
            resistor: An artifact that stands in the loop.
            across: Artifacts or meters in the loop by the voltmeter that stands across each.
            through: Artifacts in the lead of a meter, by its label.

        Raises:
            HandError: A name is not on this bench.
        """
        if source:
            _require(source, self.sources)
        for name in multimeters:
            _require(name, self.multimeters)
        for label in meters:
            self.meter(label)
        across, through = across or {}, through or {}
        shunts = [there for there in across.values() if there not in meters]
        for name in (*([resistor] if resistor else []), *shunts, *through.values()):
            self._artifact(name)
        self._resistors = tuple(dict.fromkeys((*([resistor] if resistor else []), *shunts)))
        self._through = {name: self._artifact(there).value for name, there in through.items()}
        self._across = {name: there for name, there in across.items() if name in (*multimeters, *meters)}
        self._element = self._between_leads(kind, artifact)
        self._wiring, self._wired_source, self._polarity = kind, source, polarity
        self._wired = (*multimeters, *meters)
        self.refresh()

    def _artifact(self, name: str) -> ArtifactSettings:
        artifacts = {each.name: each for each in self.settings.artifacts}
        _require(name, artifacts)
        return artifacts[name]

    def _between_leads(self, kind: Wiring, artifact: str) -> Element | None:
        """What a thing that is connected by itself has between its leads; their own resistance comes on top."""
        match kind:
            case "shorted":
                return Element(ohm=self.settings.lead_ohm)
            case "open":
                return Element(farad=0.0)
            case "alone":
                there = self._artifact(artifact)
                if there.measures == "resistance":
                    return Element(ohm=there.value + self.settings.lead_ohm)
                return Element(farad=there.value)
            case _:
                return None

    def meter(self, label: str) -> Meter:
        """The meter with a label.

        Raises:
            HandError: There is none.
        """
        _require(label, self.meters)
        return self.meters[label]

    def cue(self, text: str) -> None:
        """Re-base the noise of everything and the updates of every display on this moment."""
        for each in self._sensing.values():
            each.cue(text, self.now_ns)
        for source in self.sources.values():
            source.ailing.cue(text)

    def refresh(self) -> None:
        """Work the circuit out and tell every sensor and source."""
        self._note_outputs()
        source = self.sources.get(self._wired_source)
        sensing = {name: each for name, each in self._sensing.items() if name in self._wired}
        solution, targets = self._solve(source.output() if source else None, sensing)
        source_ns = source.settle_ns if source else 0
        for name, each in self._sensing.items():
            target = targets[name] if name in targets else _detect(each, _NOTHING, name, None)
            each.sensor.settle(target, self.now_ns, each.settle_ns() + source_ns)
        for name, supply in self.sources.items():
            if name == self._wired_source:
                supply.take(solution)
            else:
                supply.take(solve("none", supply.output(), 1, 0.0, ()))

    def _note_outputs(self) -> None:
        for name, supply in self.sources.items():
            if supply.is_on != self._are_on.get(name, False):
                self._are_on[name] = supply.is_on
                self.switched(name, supply.is_on)

    def _solve(
        self, output: Output | None, sensing: dict[str, Multimeter | Meter]
    ) -> tuple[Solution, dict[str, float]]:
        """Signals and levels, with every range where it will be once settled."""
        indices = {name: each.sensor.range_index(self.now_ns) for name, each in sensing.items()}
        for _ in range(_PASSES):
            loads = {name: _load(each, indices[name]) for name, each in sensing.items()}
            solution = self._circuit(output, loads)
            targets = {name: _detect(each, solution, name, self._element) for name, each in sensing.items()}
            settled = {name: each.sensor.settled_index(targets[name]) for name, each in sensing.items()}
            if settled == indices:
                break
            indices = settled
        return solution, targets

    def _circuit(self, output: Output | None, loads: dict[str, Load]) -> Solution:
        """The loads as they are wired.

        A voltmeter across something in a loop stands beside it, not in the loop; a resistor in a meter's lead divides
        what the meter sees.
        """
        aside = {name: loads.pop(name) for name in self._across if name in loads}
        ohms = {name: self._artifact(name).value for name in self._resistors}
        in_loop = {name: Load(name=name, path="current", ohm=ohm) for name, ohm in ohms.items()}
        every = {**loads, **in_loop}
        for name, load in aside.items():
            there = every.get(self._across[name])
            if there is not None and there.path == "current" and load.path == "voltage" and there.ohm:
                every[there.name] = replace(there, ohm=1 / (1 / there.ohm + 1 / load.ohm))
        for name, ohm in self._through.items():
            if name in every:
                every[name] = replace(every[name], ohm=every[name].ohm + ohm)
        solution = solve(self._wiring, output, self._polarity, self.settings.lead_ohm, tuple(every.values()))
        inputs = dict(solution.inputs)
        for name in aside:
            there = every.get(self._across[name])
            inputs[name] = Signal() if there is None else inputs[there.name].scaled(there.ohm, there.ohm)
        for name, ohm in self._through.items():
            if name in every and math.isfinite(every[name].ohm):
                share = 1 - ohm / every[name].ohm
                inputs[name] = inputs[name].scaled(share, share)
        return replace(solution, inputs=inputs)

    def move_to(self, until_ns: int) -> None:
        """Move the clock forward, with everything that happens on the way; a moment in the past does nothing.

        Raises:
            PortError: What a port sent did not arrive.
        """
        while until_ns > self.now_ns:
            turns = self._turns_ns()
            to_ns = max(self.now_ns, min((*turns, until_ns)))
            for label, wire in self.wires.items():
                meter = self.meters[label]
                if not meter.is_off:
                    meter.each_frame(meter.ticks(self.now_ns, to_ns), wire.put)
                wire.deliver(to_ns, wait=self.settings.virtual)
            self.now_ns = to_ns
            self.let_happen()

    def let_happen(self) -> None:
        """What is due by now: a meter falls asleep or meets a mishap; a source that does not keep still moves on.

        A watchdog bites.
        """
        turned = [meter for meter in self.meters.values() if meter.let_happen(self.now_ns)]
        bitten = [each for each in self._dc_sources if each.let_happen(self.now_ns)]
        if turned or bitten or any(source.ailing.is_restless for source in self.sources.values()):
            self.refresh()

    def _turns_ns(self) -> list[int]:
        """When meters and watchdogs do something by themselves."""
        moments = [meter.changes_at_ns() for meter in self.meters.values()]
        moments += [source.bites_at_ns() for source in self._dc_sources]
        return [moment for moment in moments if moment is not None]

    def next_ns(self) -> int | None:
        """When something happens by itself next: a frame, a byte, a turn of a meter; None for nothing."""
        moments = self._turns_ns()
        for label, wire in self.wires.items():
            meter = self.meters[label]
            if not meter.is_off:
                moments.append(meter.tick_ns(meter.ticks(self.now_ns, self.now_ns).start))
            if (due_ns := wire.next_ns()) is not None:
                moments.append(due_ns)
        return min(moments, default=None)


def _require(name: str, there: Iterable[str]) -> None:
    if name not in there:
        raise HandError(f"no {name!r} on this bench, there is {', '.join(there) or 'none'}")


def _load(each: Multimeter | Meter, index: int) -> Load:
    return each.load(index)


def _detect(each: Multimeter | Meter, solution: Solution, name: str, element: Element | None) -> float:
    signal = solution.inputs.get(name, Signal())
    if isinstance(each, Multimeter):
        return each.detect(signal, element)
    position = each.sensor.position
    return 0.0 if position is None else position.detect(signal, element)
