"""What somebody wrote of a plate is found in the catalogue, and contradicts nothing that nobody has looked at."""

from __future__ import annotations

import pytest

from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.plate import PlateFacts, in_words_of


@pytest.mark.parametrize("written", ["Moldrevane-D", "moldrevane_d", "MOLDREVANE D", "moldrevaned"])
def test_a_generation_is_found_however_it_was_written(written: str) -> None:
    plate = PlateFacts(generation=(written,), family=(), works_number="", block_number="", rivets="")
    assert in_words_of(load_catalogue(), plate).generation == ("moldrevane_d",)


def test_what_the_catalogue_has_not_stays_as_written() -> None:
    plate = PlateFacts(generation=("Something else",), family=(), works_number="", block_number="", rivets="")
    assert in_words_of(load_catalogue(), plate).generation == ("Something else",)
