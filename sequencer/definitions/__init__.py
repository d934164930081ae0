"""TOML to values, every fault with file, line and column."""

from sequencer.definitions.arguments import celsius_from, decision_from, share_between
from sequencer.definitions.documents import InputText
from sequencer.definitions.inputs import (
    Inputs,
    load_bench,
    load_inputs,
    load_model,
    load_models,
    load_table,
    reload_inputs,
    shipped_plans,
)
from sequencer.definitions.quantities import parse_quantity

__all__ = [
    "InputText",
    "Inputs",
    "celsius_from",
    "decision_from",
    "load_bench",
    "load_inputs",
    "load_model",
    "load_models",
    "load_table",
    "parse_quantity",
    "reload_inputs",
    "share_between",
    "shipped_plans",
]
