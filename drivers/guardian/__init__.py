"""A second, small process that switches sources off when the run no longer can.

`python -m drivers.guardian` gets its orders on its input, answers "armed", and from then on only listens. It acts when
its input ends without "disarmed", as after `kill -9`, or when the run falls silent for longer than the lease, as after
SIGSTOP. It needs nothing of the run: own interpreter, own sessions, own session of the system.
"""
