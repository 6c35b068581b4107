"""What can be typed as a limit, and a mass in a year as permits write it."""

from __future__ import annotations

import pytest

from asfound.errors import InputError
from asfound.quantities.limits import limit_value
from asfound.quantities.parse import parse_amount


def value(text: str, name: str = "nox_mass_per_energy") -> float:
    return limit_value(parse_amount(text, quantity=name, decimal="."), name, "value")


def test_a_limit_is_one_value_and_not_below_nought_where_nothing_is():
    assert value("0.5 g/kWh") > 0
    assert value("0 g/kWh") == 0
    assert value("-10 C", "ambient_temperature") == pytest.approx(263.15)
    for text in ("-1 g/kWh", "<0.5 g/kWh"):
        with pytest.raises(InputError):
            value(text)


@pytest.mark.parametrize(
    ("text", "kilograms"),
    [("9 t/a", 9000.0), ("9 t / year", 9000.0), ("9 t per annum", 9000.0), ("10 tpy", 9071.8474), ("10 TPY", 9071.8474),
     ("10 ton(US)/yr", 9071.8474), ("500 kg/a", 500.0), ("10 t", 10000.0)],
)  # fmt: skip
def test_a_mass_in_a_year_is_typed_as_permits_write_it(text, kilograms):
    """A short ton is 2000 lb of 0.45359237 kg (NIST SP 811, B.8)."""
    assert value(text, "nox_annual_mass") == pytest.approx(kilograms)


def test_a_rate_is_no_mass_elsewhere():
    with pytest.raises(InputError):
        value("9 t/a", "nox_mass_per_energy")
