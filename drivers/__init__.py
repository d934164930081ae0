"""Drivers for references, sources and meter ports; the only home of pyvisa."""
