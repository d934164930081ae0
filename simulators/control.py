"""The control port: the hands and eyes of a simulated person, one JSON object a line, one reply for each.

A request that cannot be done is answered with `ok` false and the reason; it changes nothing.
"""

import json
from collections.abc import Callable
from typing import Any, cast, get_args

from simulators.bench import Bench
from simulators.circuit import Wiring
from simulators.generator import Generator
from simulators.meter import HandError
from simulators.ports import PortError
from simulators.service import Service
from simulators.signals import Shape

Request = dict[str, Any]
Reply = dict[str, Any]


_SHAPES: dict[str, Shape] = {"sine": "SIN", "square": "SQU", "triangle": "TRI"}


class Control:
    """Carries out what the control port is asked; `has_quit` says that the bench is to end."""

    def __init__(self, bench: Bench, services: dict[str, Service]) -> None:
        self._bench = bench
        self._services = services
        self.has_quit = False
        self._verbs: dict[str, Callable[[Request], Reply]] = {
            "now": lambda _: {},
            "advance": self._advance,
            "cue": self._cue,
            "wire": self._wire,
            "dial": self._dial,
            "relative": self._relative,
            "set": self._set,
            "display": self._display,
            "wake": self._wake,
            "outputs": self._outputs,
            "fault": self._fault,
            "withheld": self._withheld,
            "quit": self._quit,
        }

    def answer(self, line: bytes) -> bytes:
        """The reply line to a request line."""
        try:
            request = json.loads(line)
            if not isinstance(request, dict):
                raise HandError("a request is an object")
            verb = request.get("do")
            if verb not in self._verbs:
                raise HandError(f"no verb {verb!r}, there is {', '.join(self._verbs)}")
            reply = {"ok": True, **self._verbs[verb](request), "now": self._bench.now_ns / 1e9}
        except (HandError, PortError, ValueError) as error:
            reply = {"ok": False, "why": str(error)}
        return json.dumps(reply, ensure_ascii=False).encode() + b"\n"

    def _advance(self, request: Request) -> Reply:
        if not self._bench.settings.virtual:
            raise HandError("time runs by itself on this bench")
        self._bench.move_to(self._bench.now_ns + round(_number(request, "seconds") * 1e9))
        return {}

    def _cue(self, request: Request) -> Reply:
        self._bench.cue(_text(request, "text"))
        return {}

    def _wire(self, request: Request) -> Reply:
        kind = _text(request, "kind")
        if kind not in get_args(Wiring):
            raise HandError(f"kind: got {kind!r}, accepted: {', '.join(get_args(Wiring))}")
        polarity = request.get("polarity", 1)
        if polarity not in (1, -1):
            raise HandError(f"polarity: got {polarity!r}, accepted: 1, -1")
        source = request.get("source") or ""
        self._bench.wire(
            cast(Wiring, kind),
            source,
            polarity,
            _texts(request, "multimeters"),
            _texts(request, "meters"),
            _text(request, "artifact") if kind == "alone" else "",
            resistor=_text(request, "resistor") if "resistor" in request else "",
            across=_names(request, "across"),
            through=_names(request, "through"),
        )
        return {}

    def _dial(self, request: Request) -> Reply:
        meter = self._bench.meter(_text(request, "meter"))
        dial, select, jack = (_text(request, key) for key in ("dial", "select", "jack"))
        meter.turn(dial, select, jack, self._bench.now_ns)
        self._bench.refresh()
        return {}

    def _relative(self, request: Request) -> Reply:
        meter = self._bench.meter(_text(request, "meter"))
        full_scale = _number(request, "full_scale") if "full_scale" in request else 0.0
        meter.subtract(bool(request.get("on")), full_scale, self._bench.now_ns)
        self._bench.refresh()
        return {}

    def _set(self, request: Request) -> Reply:
        name = _text(request, "source")
        if name not in self._bench.sources:
            raise HandError(f"no source {name!r}, there is {', '.join(self._bench.sources)}")
        source = self._bench.sources[name]
        if not request.get("on"):
            source.is_on = False
        elif isinstance(source, Generator):
            source.set_by_hand(
                _number(request, "level"), _number(request, "frequency"), _SHAPES[_text(request, "waveform")]
            )
        else:
            level = request.get("level")
            if isinstance(level, bool) or not isinstance(level, (int, float)):
                raise HandError(f"level: got {level!r}, accepted: a number")
            source.set_by_hand(_text(request, "measure"), float(level), _number(request, "limit"))
        self._bench.refresh()
        return {}

    def _display(self, request: Request) -> Reply:
        meter = self._bench.meter(_text(request, "meter"))
        if request.get("answer") and self._bench.settings.virtual:
            self._bench.move_to(self._bench.now_ns + round(self._bench.settings.reading_s * 1e9))
        shown = meter.shown(self._bench.now_ns)
        if shown is None:
            return {"text": "", "unit": "", "off": True}
        return {"text": shown.text, "unit": shown.unit, "off": False}

    def _wake(self, request: Request) -> Reply:
        self._bench.meter(_text(request, "meter")).wake(self._bench.now_ns)
        self._bench.refresh()
        return {}

    def _outputs(self, request: Request) -> Reply:
        del request
        return {"outputs": {name: source.is_on for name, source in self._bench.sources.items()}}

    def plant(self, name: str, what: str, *, after: int, times: int) -> None:
        """Let a mishap happen to an instrument or a meter; `after` and `times` count questions, or display updates.

        Raises:
            HandError: There is no such thing on the bench, or no such mishap.
        """
        if service := self._services.get(name):
            service.plant(what, after=after, times=times)
            return
        self._bench.meter(name).plant(what, self._bench.now_ns, after=after, times=times)
        self._bench.let_happen()

    def _fault(self, request: Request) -> Reply:
        after = int(_number(request, "after")) if "after" in request else 0
        times = int(_number(request, "times")) if "times" in request else 1
        self.plant(_text(request, "name"), _text(request, "what"), after=after, times=times)
        return {}

    def _withheld(self, request: Request) -> Reply:
        """Whether the reply to an instrument's latest question was held back, and when; told once."""
        name = _text(request, "name")
        if name not in self._services:
            raise HandError(f"no {name!r} on this bench, there is {', '.join(self._services) or 'none'}")
        since_ns = self._services[name].take_withheld_since_ns()
        return {"withheld": since_ns is not None, "since": None if since_ns is None else since_ns / 1e9}

    def _quit(self, request: Request) -> Reply:
        del request
        self.has_quit = True
        return {}


def _text(request: Request, key: str) -> str:
    value = request.get(key)
    if not isinstance(value, str):
        raise HandError(f"{key}: got {value!r}, accepted: a text")
    return value


def _texts(request: Request, key: str) -> list[str]:
    value = request.get(key, [])
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        raise HandError(f"{key}: got {value!r}, accepted: a list of names")
    return value


def _names(request: Request, key: str) -> dict[str, str]:
    value = request.get(key, {})
    if not isinstance(value, dict) or not all(isinstance(each, str) for each in value.values()):
        raise HandError(f"{key}: got {value!r}, accepted: an object of names")
    return value


def _number(request: Request, key: str) -> float:
    value = request.get(key)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value < 1e9:
        raise HandError(f"{key}: got {value!r}, accepted: a number from 0 on")
    return float(value)
