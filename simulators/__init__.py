"""A simulated bench: instruments, meters and the circuit between them, served by one process with one clock.

It knows nothing of the rest of the project: it is given counts, ranges and true errors as plain numbers (`config`),
and reached through sockets and pseudo-terminals like real things. `control` is the hands of a simulated person.
"""
