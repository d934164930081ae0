"""Puts a stimulus on the terminals: probe, setting, settling, trimming, and the check that a loop is closed.

What to do next is decided by the pure functions of `settling`; this module only carries it out.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import count

from drivers.failures import Stuck
from sequencer.running.clock import Clock
from sequencer.running.dc_on_ac import DcLook
from sequencer.running.devices import Devices
from sequencer.running.ports import capture_frames
from sequencer.running.recovery import Recovery, Remedies
from sequencer.running.settling import (
    HOPEFUL_S,
    LONGEST_S,
    START_SHORT,
    first_setting,
    how_restless,
    is_astray,
    is_hopeless,
    is_open_loop,
    is_steady,
    is_stuck,
    is_tolerable,
    load_setting,
    mean_of,
    next_setting,
    numbers_in,
    scale_of,
    still_to_come,
    trim_distance,
)
from sequencer.running.truths import ReferenceReader
from sequencer.steps.choose import Point, reference_row
from sequencer.steps.expand import PROBE_CURRENT_LIMIT_A, PROBE_VOLTAGE_LIMIT_V
from sequencer.steps.policy import Role, policy_for
from sequencer.units import format_quantity
from sequencer.values.event import DC_ON_TERMINALS, Reading
from sequencer.values.measure import UNITS, VOLTAGE_OF, Measure, Waveform
from sequencer.values.model import MeterModel
from sequencer.values.step import Setup, Step

STEADY_READINGS = 3
STEADY_PAUSE_S = 0.2
RECENT_S = 2.0
"""How a reference moves is seen in the latter half of the time since the setting, and in no more than this."""
RESTLESS_GROUPS = 10
"""So many of the latest groups of readings say whether a reference drifts or is noisy."""
LOOKS = 5.0
"""A slow unit's settling time is at least divided by this into looks at the reference."""
TRIM_TRIES = 6
BY_HAND_SHARE = 0.05
"""A source that is set by hand is there when the reference is within this share of nominal, unless trim says closer."""
WATCH_S = 600.0
WATCH_TELL_S = 5.0
"""How long a person has to set a source, and how often what the reference shows is told meanwhile."""
ROUGHLY = 0.1
"""A probe agrees when reference and units are within this share of its level, and for units this many digits more."""
ROUGHLY_DIGITS = 10


MOVED_SHARE = 1e-3
"""Settings this share of the reference's range apart, and more, have to show in its readings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """How a stimulus stands: the source's setting in SI units, the latest reference readings, and what was noticed.

    Attributes:
        void: Why nothing may be read at it, empty if it may; the output is off then.
        dc: What the reference read under an ac voltage, where it was asked.
        remark: A line about it for whoever runs the bench, or empty.
    """

    setting: float
    readings: tuple[Reading, ...]
    settled: bool
    void: str = ""
    flags: tuple[str, ...] = ()
    dc: Reading | None = None
    remark: str = ""


@dataclass(kw_only=True)
class Stimulus:
    """Drives sources and watches references; owns neither.

    Attributes:
        tell: Hears what the reference shows while a person sets a source.
    """

    devices: Devices
    models: Mapping[str, MeterModel]
    clock: Clock
    recovery: Recovery
    tell: Callable[[str], None]
    _latest: tuple[str, Stand] | None = None
    _range: float = 0.0
    _dc_look: DcLook = field(init=False)

    def __post_init__(self) -> None:
        self._dc_look = DcLook(devices=self.devices, models=self.models, clock=self.clock)

    def probe(
        self,
        setup: Setup,
        settle_s: float,
        ported: Mapping[int, str],
        ask_keyed: Callable[[str], tuple[str, ...]],
        agreed: frozenset[int] = frozenset(),
    ) -> tuple[str, tuple[Reading, ...]]:
        """Apply the probe level, compare, and go back to zero.

        Args:
            setup: What was wired.
            settle_s: Seconds until a reading of any unit counts.
            ported: Labels by number of the units that are read through a port.
            ask_keyed: Asks a person, given the level in words, which displays do not show it.
            agreed: Numbers of the units that agreed before under the same leads and dials: where their ports are silent
                now, the others need not suffer for it.

        Returns:
            A complaint, empty if all agree roughly, and the reference readings.
        """
        self.clock.cue(f"probe:{setup.key}")
        reference = self.devices.reference(setup.reference)
        self._prepare_probe(setup)
        self._drive(
            setup,
            setup.polarity * setup.probe,
            frequency=setup.probe_frequency,
            level=setup.level,
            loop_ohm=setup.loop_ohm,
            voltage_limit=min(PROBE_VOLTAGE_LIMIT_V, setup.voltage_limit or PROBE_VOLTAGE_LIMIT_V),
            current_limit=min(PROBE_CURRENT_LIMIT_A, setup.current_limit or PROBE_CURRENT_LIMIT_A),
        )
        self._watch(setup, setup.probe, BY_HAND_SHARE * abs(setup.probe))
        if reference.burst == 1:
            self.clock.wait(settle_s)
            readings: tuple[Reading, ...] = (reference.read(),)
        else:
            readings = self._watched(reference, settle_s, ROUGHLY * abs(setup.probe))[0][-STEADY_READINGS:]
        complaint = self._complaint(setup, readings, ported, agreed) or self._keyed_complaint(setup, ask_keyed)
        self.devices.switch_off()
        # Autoranging meters come down to their lowest range, so that the first point is approached from below.
        self.clock.wait(settle_s)
        return complaint, readings

    def apply(self, step: Step, setup: Setup) -> Stand:
        """Put a step's stimulus on the terminals, let it settle, and trim it if asked."""
        self.clock.cue(f"apply:{step.key}")
        if setup.artifact:
            self.clock.wait(step.settle_s)
            return Stand(setting=step.nominal, readings=self.devices.of_artifact(setup), settled=True)
        stand = self._following(step, setup)
        if void := self.why_void(step, setup, stand.readings):
            return self._off(stand.setting, stand.readings, void)
        reference = self.devices.reference(setup.reference)
        if step.trim is not None:
            stand = self._trim(reference, step, setup, stand)
        return stand if stand.void else self._with_dc(reference, step, setup, stand)

    def _with_dc(self, reference: ReferenceReader, step: Step, setup: Setup, stand: Stand) -> Stand:
        """The stand with what is known of dc under it; a reference that read dc reads ac again, settled."""
        found = self._dc_look.at(step, setup)
        if found.reading is not None:
            self._prepare(step, setup)
            readings, settled = self._settled(reference, step)
            stand = replace(stand, readings=readings, settled=settled, dc=found.reading, remark=found.remark)
        return replace(stand, flags=(*stand.flags, DC_ON_TERMINALS)) if found.is_too_much else stand

    def _following(self, step: Step, setup: Setup) -> Stand:
        """How the stimulus stands first, once it is seen that reference and source move when they should.

        Raises:
            BenchError: One of them is stuck.
        """
        source, reference = self.devices.source(setup.source), self.devices.reference(setup.reference)
        remedies: Mapping[Role, Remedies] = {
            # After a new session the reference is prepared anew by itself; the source may be who is stuck.
            "reference": {"new session": reference.renew, "settings again": source.start_again},
            "source": {"output off": source.off, "settings again": source.start_again},
        }
        for tries in count(1):
            stand = self._bring(step, setup)
            source.attend()
            stuck = self._who_is_stuck(step, setup, stand)
            if stuck is None:
                break
            device, role, met = stuck
            pending, _ = self.recovery.weigh(device, role, met, tries, remedies[role])
            for remedy in pending:
                remedies[role][remedy]()
        self._latest = (setup.key, stand)
        return stand

    def _prepare(self, step: Step, setup: Setup) -> None:
        """Have the reference measure what is asked of it at a step."""
        expected = step.nominal * step.truth_share if step.truth_nominal is None else step.truth_nominal
        self.devices.reference(setup.reference).prepare(
            _asked_for(setup), step.reference_range, step.frequency, expected
        )

    def _bring(self, step: Step, setup: Setup) -> Stand:
        reference = self.devices.reference(setup.reference)
        if setup.wiring == "series" and step.reference_range < self._range:
            self.devices.switch_off()  # a shunt for little does not take what flows for a point that is gone back from
        self._range = step.reference_range
        self._prepare(step, setup)
        # A pulse has no time for coming from below; a source that is believed reads its own setting wherever it stands.
        is_read = step.pulse is None and setup.reference != setup.source
        is_steered = step.trim is not None and is_read and not self.devices.source(setup.source).by_hand
        first = first_setting(step.nominal, step.range_below) if is_steered else step.nominal
        setting = setup.polarity * first
        self._set(step, setup, setting)
        self._watch(setup, step.nominal, self._near(step))
        readings, settled = self._settled(reference, step)
        return Stand(setting=setting, readings=readings, settled=settled)

    def _who_is_stuck(self, step: Step, setup: Setup, stand: Stand) -> tuple[str, Role, Stuck] | None:
        """Whoever did not move since the step before: the reference if it repeats itself to the letter."""
        if self._latest is None or self._latest[0] != setup.key or self.devices.source(setup.source).by_hand:
            return None
        before = self._latest[1]
        earlier, now = mean_of(before.readings), mean_of(stand.readings)
        told_by = stand.setting - before.setting
        if (
            setup.derives == "burden voltage"
            or abs(told_by) < MOVED_SHARE * step.reference_range
            or earlier is None
            or now is None
        ):
            return None
        if not is_stuck(earlier, now, told_by) or self.devices.source(setup.source).is_limiting():
            return None
        unit = UNITS[step.measure]
        was, told = (format_quantity(one.setting, unit) for one in (before, stand))
        texts = {reading.text for reading in (before.readings[-1], *stand.readings)}
        if len(texts) == 1:
            reads = f"{setup.reference} reads {texts.pop()!r}"
            said = f"{reads} with {setup.source} at {was} and at {told}: one of them is stuck"
            return setup.reference, "reference", Stuck(said, hint="see whether its display is held")
        said = f"{setup.source} was told {told} after {was}, and {setup.reference} reads {format_quantity(now, unit)}"
        return setup.source, "source", Stuck(said, hint="see whether it is controlled from its front panel")

    def _prepare_probe(self, setup: Setup) -> None:
        reference, range_si = self.devices.reference(setup.reference), self._probe_range(setup)
        reference.prepare(_asked_for(setup), range_si, setup.probe_frequency, setup.probe)

    def _probe_range(self, setup: Setup) -> float:
        if setup.derives == "burden voltage":
            return setup.probe_range
        model = self.models[self.devices.reference_model(setup.reference)]
        point = Point(measure=setup.measure, nominal=setup.probe, frequency=setup.probe_frequency)
        row = reference_row(model, point)
        return row.full_scale if row else abs(setup.probe)

    def _complaint(
        self, setup: Setup, readings: tuple[Reading, ...], ported: Mapping[int, str], agreed: frozenset[int]
    ) -> str:
        unit = UNITS[setup.measure]
        level = format_quantity(setup.probe, unit)
        seen = mean_of(readings)
        if setup.derives == "burden voltage":
            return "" if seen is not None else f"reference {setup.reference} shows no number"
        if seen is None or is_astray(seen, setup.probe):
            shown = "no number" if seen is None else format_quantity(seen, unit)
            why = self._load_setting(setup, seen, setup.probe)
            return f"reference {setup.reference} shows {shown} where about {level} was applied{why}"
        for number, taken in capture_frames(self.devices, ported, self.clock, setup.measure).items():
            reading = taken.reading
            if reading is None and number in agreed:
                continue
            if reading is None or reading.value is None:
                return f"unit {ported[number]}: {taken.reason}"
            if setup.through:
                continue  # how much less it shows is what is asked
            slack = ROUGHLY * abs(setup.probe) + ROUGHLY_DIGITS * (reading.resolution or 0.0)
            if not abs(reading.value - seen) <= slack:
                return f"unit {ported[number]} sends {reading.text.strip()!r} where the reference shows about {level}"
        return ""

    def _keyed_complaint(self, setup: Setup, ask_keyed: Callable[[str], tuple[str, ...]]) -> str:
        level = format_quantity(setup.probe, UNITS[setup.measure])
        disagree = ask_keyed(level)
        return f"{', '.join(disagree)} did not show roughly {level}" if disagree else ""

    def _set(self, step: Step, setup: Setup, setting: float) -> None:
        self._drive(
            setup,
            setting,
            frequency=step.frequency,
            level=step.level,
            loop_ohm=step.loop_ohm,
            waveform=step.waveform,
            voltage_limit=setup.voltage_limit,
            current_limit=setup.current_limit,
        )

    def _drive(
        self,
        setup: Setup,
        setting: float,
        *,
        frequency: float | None,
        level: float | None,
        loop_ohm: float | None,
        voltage_limit: float | None,
        current_limit: float | None,
        waveform: Waveform = "sine",
    ) -> None:
        """Have the source give what the setup measures.

        A frequency is that of an ac voltage at a level; a current through a series resistor is made by a voltage.
        """
        measure = setup.measure
        if loop_ohm is not None:
            measure, setting = VOLTAGE_OF[measure], setting * loop_ohm
        if level is not None:
            measure, setting, frequency = "ac voltage", level, setting
        self.devices.source(setup.source).apply(
            measure,
            setting,
            frequency=frequency,
            waveform=waveform,
            voltage_limit=voltage_limit,
            current_limit=current_limit,
        )

    def _near(self, step: Step) -> float:
        """How near to nominal, in SI units, a source that is set by hand has to be brought."""
        if step.trim is not None:
            return trim_distance(step.trim, step.nominal)
        return BY_HAND_SHARE * abs(step.nominal)

    def _watch(self, setup: Setup, nominal: float, distance: float) -> None:
        """Where a person sets the source: read the reference until it is there, but not for ever.

        A reference that is read by eye is asked for afterwards, which waits long enough.
        """
        reference = self.devices.reference(setup.reference)
        if not self.devices.source(setup.source).by_hand or reference.burst == 1:
            return
        until_s = self.clock.now() + WATCH_S
        told_s, was_above = self.clock.now(), False
        while (now_s := self.clock.now()) < until_s:
            value = reference.read().value
            if value is not None and abs(value - nominal) <= distance * (1 + 1e-9):
                return
            is_above = value is not None and abs(value) > abs(nominal) + distance
            if value is not None and (now_s - told_s >= WATCH_TELL_S or is_above > was_above):
                told_s = now_s
                shown = f"{setup.reference} shows {format_quantity(value, UNITS[setup.measure])}"
                self.tell(f"{shown}: too much, turn it down" if is_above else shown)
            was_above = is_above
            self.clock.wait(STEADY_PAUSE_S)

    def _settled(self, reference: ReferenceReader, step: Step) -> tuple[tuple[Reading, ...], bool]:
        """Reference readings once a step's stimulus stands; the latest ones with False, and a note, if it never does.

        Whoever reads a reference by eye waits until it stands still.
        """
        if reference.burst == 1:
            self.clock.wait(step.settle_s)
            return (reference.read(),), True
        longest_s = LONGEST_S if step.pulse is None else 0.0
        scale = scale_of(step.truth_nominal or step.nominal, step.tightest_limit)
        seen, settled = self._watched(reference, step.settle_s, scale, longest_s)
        if not settled:
            self._note_restless(step, seen)
        return seen[-STEADY_READINGS:], settled

    def _watched(
        self, reference: ReferenceReader, settle_s: float, scale: float, longest_s: float = LONGEST_S
    ) -> tuple[tuple[Reading, ...], bool]:
        """All readings of a reference from a setting on until it stands, but not for ever, and whether it does.

        It is watched for half of the time that units and source need already, so that most need no more than that.
        """
        begun_s, pause_s = self.clock.now(), max(STEADY_PAUSE_S, settle_s / 2 / LOOKS)
        self.clock.wait(settle_s / 2)
        seen: list[Reading] = []
        while True:
            seen += (reference.read() for _ in range(STEADY_READINGS))
            lasted_s = self.clock.now() - begun_s
            recent = [one for one in seen if one.at_s - begun_s >= max(lasted_s / 2, lasted_s - RECENT_S)]
            values, is_late = numbers_in(recent), lasted_s >= settle_s + longest_s
            if lasted_s >= settle_s and len(values) == len(recent) > STEADY_READINGS:
                times_s = [one.at_s for one in recent]
                course = still_to_come(times_s, values, lasted_s)
                is_late |= lasted_s >= settle_s + HOPEFUL_S and is_hopeless(times_s, values, *course, scale)
                stands = is_tolerable if is_late else is_steady
                if stands(*course, values[-STEADY_READINGS:], scale):
                    return tuple(seen), True
            if is_late:
                return tuple(seen), False
            self.clock.wait(pause_s)

    def _note_restless(self, step: Step, seen: Sequence[Reading]) -> None:
        seen = seen[-RESTLESS_GROUPS * STEADY_READINGS :]
        starts = range(0, len(seen), STEADY_READINGS)
        groups = (mean_of(seen[start : start + STEADY_READINGS]) for start in starts)
        means = [group for group in groups if group is not None]
        if len(means) < 2:
            return
        kind, unit, reference = how_restless(means), UNITS[step.measure], seen[-1].of
        least, most = (format_quantity(value, unit) for value in (min(means), max(means)))
        said = f"readings of {reference} go from {least} to {most}"
        self.recovery.note(reference, "reference", kind, said, policy_for(kind, "reference").then)

    def _trim(self, reference: ReferenceReader, step: Step, setup: Setup, stand: Stand) -> Stand:
        assert step.trim is not None
        if self.devices.source(setup.source).by_hand:
            return self._trimmed(step, stand)
        # Trimming begins short, and has to come nearer than that, however wide the asked distance is.
        distance = min(trim_distance(step.trim, step.nominal), START_SHORT / 2 * abs(step.nominal))
        ceiling = self._ceiling(step, setup)
        setting, readings, settled = stand.setting, stand.readings, stand.settled
        for _ in range(TRIM_TRIES):
            measured = mean_of(readings)
            if measured is None:
                break
            towards = setup.polarity * setting
            wanted = setup.polarity * next_setting(towards, measured, step.nominal, distance, ceiling, step.range_below)
            if wanted == setting:
                break
            setting = wanted
            self._set(step, setup, setting)
            readings, settled = self._settled(reference, step)
            if void := self.why_void(step, setup, readings):
                return self._off(setting, readings, void)
            now = mean_of(readings)
            if now is not None and is_stuck(measured, now, wanted - towards * setup.polarity):
                break  # finer than the source's resolution
        return self._trimmed(step, Stand(setting=setting, readings=readings, settled=settled))

    def _ceiling(self, step: Step, setup: Setup) -> float | None:
        """The largest setting that bench and jacks allow, in SI units of the measure; None for no bound."""
        limits = [self.devices.source(setup.source).ceiling(step.measure), setup.rating]
        if step.loop_ohm is not None and setup.voltage_limit is not None:
            limits.append(setup.voltage_limit / step.loop_ohm)
        return min((limit for limit in limits if limit is not None), default=None)

    def _trimmed(self, step: Step, stand: Stand) -> Stand:
        """The stand with a flag where it is not as near as was asked."""
        assert step.trim is not None
        measured, distance = mean_of(stand.readings), trim_distance(step.trim, step.nominal)
        reached = measured is not None and abs(measured - step.nominal) <= distance * (1 + 1e-9)
        return stand if reached else replace(stand, flags=("not trimmed",))

    def why_void(self, step: Step, setup: Setup, readings: tuple[Reading, ...]) -> str:
        """Why nobody may be judged by these reference readings; empty if they are near what was set.

        Raises:
            Spoiled: The source does not give what it was told, or not all the time.
        """
        if setup.artifact:
            return ""
        self.devices.source(setup.source).attend()
        if setup.reference == setup.source and self.devices.source(setup.source).is_limiting():
            return f"source {setup.source} is at its limit, so that its setting says nothing"
        measured = mean_of(readings)
        if setup.derives == "burden voltage":
            is_open = measured is None or self.devices.source(setup.source).is_limiting()
            return "the loop is open" if is_open else ""
        if not is_astray(measured, step.nominal):
            return ""
        # A voltage through a series resistor has no limit to come to: hardly any current is enough to tell.
        limiting = bool(setup.resistor) or self.devices.source(setup.source).is_limiting()
        if setup.wiring == "series" and is_open_loop(measured or 0.0, step.nominal, limiting):
            return "the loop is open"
        shown = "no number" if measured is None else format_quantity(measured, UNITS[step.measure])
        return f"reference {setup.reference} shows {shown}{self._load_setting(setup, measured, step.nominal)}"

    def _load_setting(self, setup: Setup, measured: float | None, nominal: float) -> str:
        """Names the load setting of a generator where the reference shows what a wrong one does; else empty."""
        if measured is None or setup.measure != "ac voltage":
            return ""
        words = load_setting(measured, nominal)
        return f" (generator {setup.source} gives {words})" if words else ""

    def _off(self, setting: float, readings: tuple[Reading, ...], void: str) -> Stand:
        self.devices.switch_off()
        return Stand(setting=setting, readings=readings, settled=False, void=void)


def _asked_for(setup: Setup) -> Measure:
    """What the reference is asked to measure: across a unit in a loop a voltage."""
    return VOLTAGE_OF[setup.measure] if setup.derives == "burden voltage" else setup.measure
