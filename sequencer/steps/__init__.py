"""Plan to ordered steps, and the run as a state machine without I/O."""
