"""The simulated bench as a process: one line of configuration in, one line of addresses out, then serve.

It ends when its input ends or its control port says so, and lets an interrupt from the keyboard pass: whoever started
it still needs it to switch sources off.
"""

import json
import signal
import sys

from simulators.bench import Bench
from simulators.config import ConfigError, parse_config
from simulators.server import Server


def main() -> int:
    """Serve one bench; 2 for a configuration that cannot be used."""
    for name in ("SIGINT", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    line = sys.stdin.buffer.readline()
    try:
        server = Server(Bench(parse_config(line.decode("utf-8", "replace"))))
    except ConfigError as error:
        print(f"simulated bench: {error}", file=sys.stderr)
        return 2
    except OSError as error:
        print(f"simulated bench: cannot open a port or its log: {error}", file=sys.stderr)
        return 2
    print(
        json.dumps({"addresses": server.addresses, "ports": server.ports, "control": server.control_port}), flush=True
    )
    try:
        server.watch_input(sys.stdin.fileno())
    except PermissionError:
        print("simulated bench: the input must stay open, a file cannot: use a pipe", file=sys.stderr)
        return 2
    server.serve()
    return 0


if __name__ == "__main__":
    sys.exit(main())
