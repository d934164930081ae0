"""Arguments written as in files."""

import pytest

from sequencer.definitions import share_between
from sequencer.errors import InputError


@pytest.mark.parametrize(("text", "share"), [("95 %", 0.95), ("95%", 0.95), ("99.9 %", 0.999), ("20 ppm", 20e-6)])
def test_a_share(text: str, share: float) -> None:
    assert share_between(text, "--in-tolerance") == share


@pytest.mark.parametrize(
    ("text", "hint"),
    [("95", 'the unit is missing: "95 %"'), ("0 %", ""), ("100 %", ""), ("95,5 %", '"95.5 %"'), ("", ""), ("-5 %", "")],
)
def test_no_share(text: str, hint: str) -> None:
    with pytest.raises(InputError) as caught:
        share_between(text, "--in-tolerance")
    said = str(caught.value)
    assert said.startswith(f'--in-tolerance: got "{text}", accepted: a share above 0 % and below 100 %')
    assert hint in said
