"""Tests of the drivers: scripted links, real PyVISA sessions, the simulated bench."""
