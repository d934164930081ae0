"""A simulated bench: instruments, meters and the circuit between them."""
