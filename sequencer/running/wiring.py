"""What has to be done by hand before a setup: only what differs from how leads and dials stand now."""

from collections.abc import Iterable, Iterator, Mapping

from sequencer.running.operator import DialTurn, Hazard, WiringOrder, ZeroOrder
from sequencer.steps.choose import hazard_at
from sequencer.steps.moves import leads_of
from sequencer.units import format_quantity
from sequencer.values.bench import Reference
from sequencer.values.measure import VOLTAGE_OF, Measure
from sequencer.values.model import MeterModel
from sequencer.values.plan import Unit
from sequencer.values.step import DialSetting, Setup, Step, Zero


class Bindings:
    """How leads and dials stand, as far as this process has seen them put there."""

    def __init__(
        self, units: Mapping[int, Unit], models: Mapping[str, MeterModel], references: tuple[Reference, ...] = ()
    ) -> None:
        self._units = units
        self._models = models
        self._by_hand = {item.name: item.model_file for item in references if item.driver != "scpi"}
        self._dials: dict[int, DialSetting] = {}
        self._reference_stands: dict[str, Measure] = {}
        self._leads: tuple[object, ...] | None = None
        self._relative: dict[int, str] = {}
        self._warned = False
        self._on: tuple[str, ...] = ()

    def order(self, setup: Setup) -> WiringOrder:
        """The order that leads to a setup from here."""
        labels = tuple(self._units[dial.unit].label for dial in setup.dials)
        return WiringOrder(
            setup=setup,
            labels=labels if setup.artifact or setup.reference == setup.source else (*labels, setup.reference),
            reference=setup.reference,
            turns=(*self._turns(setup), *(() if setup.artifact else self.reference_turns(setup))),
            leads_move=self._leads != leads_of(setup),
            trust_notes=() if self._warned else tuple(self._trust_notes(setup)),
            taken_off=tuple(label for label in self._on if label not in labels),
            cancels=tuple(self._units[dial.unit].label for dial in setup.dials if self._is_stale(dial.unit, setup)),
        )

    def done(self, setup: Setup) -> None:
        """The order was carried out."""
        self._leads = leads_of(setup)
        self._dials.update({dial.unit: dial for dial in setup.dials})
        for dial in setup.dials:
            if self._is_stale(dial.unit, setup):
                del self._relative[dial.unit]
        if not setup.artifact:
            self._reference_stands[setup.voltmeter or setup.reference] = read_as(setup)
        self._warned = True
        self._on = tuple(self._units[dial.unit].label for dial in setup.dials)

    def hazard(self, setup: Setup, steps: Iterable[Step]) -> Hazard:
        """What has to be confirmed before a setup is switched on whose steps these are."""
        limits = []
        if setup.current_limit is not None and setup.measure == "dc voltage":
            limits.append(f"current limit {format_quantity(setup.current_limit, 'A')}")
        if setup.voltage_limit is not None:
            limits.append(f"voltage limit {format_quantity(setup.voltage_limit, 'V')}")
        return Hazard(
            points=tuple(words for step in steps if (words := hazard_at(step))),
            labels=(*(self._units[dial.unit].label for dial in setup.dials), setup.reference),
            source=setup.source,
            limit=", ".join(limits) or "it has no current limit that can be set",
            trust_notes=tuple(self._trust_notes(setup)),
        )

    def zero_order(self, setup: Setup, zero: Zero, settle_s: float) -> ZeroOrder:
        """What leads from here to a unit whose zero can be read."""
        label = self._units[zero.unit].label
        turns = tuple(turn for turn in self._turns(setup) if turn.label == label)
        return ZeroOrder(zero=zero, label=label, settle_s=settle_s, turns=turns, cancels=zero.unit in self._relative)

    def zero_done(self, setup: Setup, zero: Zero) -> None:
        """The unit stands as the zero wants it, and its leads are off the terminals."""
        self._on = ()
        self._leads = None
        self._dials.update({dial.unit: dial for dial in setup.dials if dial.unit == zero.unit})
        self._relative.pop(zero.unit, None)
        if zero.relative:
            self._relative[zero.unit] = zero.key

    def doubt(self) -> None:
        """Something is wired wrongly: everything is put again."""
        self._leads = None
        self._dials.clear()
        self._relative.clear()
        self._reference_stands.clear()

    def looks(self, setup: Setup) -> str:
        """Dials, jacks and fuses of a setup to look at, in one line."""
        return ", ".join(
            f"{self._units[dial.unit].label} (dial {dial.dial}, jack {dial.jack or 'as marked'}{self._fuse(dial)})"
            for dial in setup.dials
        )

    def _turns(self, setup: Setup) -> Iterator[DialTurn]:
        for dial in setup.dials:
            before = self._dials.get(dial.unit)
            if before is None or (before.dial, before.jack, before.select) != (dial.dial, dial.jack, dial.select):
                yield DialTurn(
                    label=self._units[dial.unit].label,
                    dial=dial.dial,
                    jack=dial.jack,
                    select=dial.select,
                    was=before.dial if before else "",
                )

    def reference_zero(self, setup: Setup, settle_s: float) -> ZeroOrder:
        """What leads to a reference whose leads can be read by themselves."""
        zero = Zero(key="", unit=0, leads="open" if setup.measure == "capacitance" else "shorted")
        return ZeroOrder(zero=zero, label=setup.reference, settle_s=settle_s, turns=self.reference_turns(setup))

    def reference_alone(self, setup: Setup) -> WiringOrder:
        """What leads to a reference that is alone on the setup's artifact."""
        return WiringOrder(
            setup=setup,
            labels=(setup.reference,),
            reference="",
            turns=self.reference_turns(setup),
            leads_move=True,
        )

    def reference_done(self, setup: Setup) -> None:
        """The reference stands as it measures the setup's artifact; whatever was on the leads is off them."""
        self._leads = None
        self._reference_stands[setup.reference] = setup.measure

    def reference_turns(self, setup: Setup) -> tuple[DialTurn, ...]:
        """A reference that is a handheld has a dial too."""
        return tuple(self._reference_turns(setup))

    def _reference_turns(self, setup: Setup) -> Iterator[DialTurn]:
        reader, measure = setup.voltmeter or setup.reference, read_as(setup)
        model_file = self._by_hand.get(reader)
        if model_file is None or self._reference_stands.get(reader) == measure:
            return
        for function in self._models[model_file].functions:
            if function.measures == measure and function.mode == "normal":
                yield DialTurn(label=reader, dial=function.dial, jack=function.jack, select=function.select)
                return

    def _is_stale(self, unit: int, setup: Setup) -> bool:
        """Whether a unit still subtracts a zero that this setup does not ask for; on many meters it holds a range."""
        return unit in self._relative and self._relative[unit] not in {zero.key for zero in setup.zeros}

    def _trust_notes(self, setup: Setup) -> Iterator[str]:
        """Units whose measurement category rests on the maker's word, or on nothing; said once."""
        named = []
        for dial in setup.dials:
            unit = self._units[dial.unit]
            safety = self._models[unit.model_file].safety
            if safety.evidence != "independent laboratory":
                named.append(f"{unit.label} ({safety.category or 'no category printed'})")
        if named:
            yield f"Measurement category without an independent test: {', '.join(named)}."

    def _fuse(self, dial: DialSetting) -> str:
        jacks = self._models[self._units[dial.unit].model_file].jacks
        fuse = next((jack.fuse for jack in jacks if jack.name == dial.jack), "")
        return f", fuse {fuse}" if fuse else ""


def read_as(setup: Setup) -> Measure:
    """What the reference measures by itself: across a shunt, or across a unit in a loop, a voltage."""
    return VOLTAGE_OF[setup.measure] if setup.voltmeter else setup.measure
