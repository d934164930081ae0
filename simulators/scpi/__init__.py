"""The words instruments speak: IEEE 488.2 messages and status, SCPI-1999 headers, parameters and errors."""
