"""Every published value of the gas's properties holds; sources stand in the packaged tables."""

from __future__ import annotations

import pytest

from asfound.fuel import checks_properties
from asfound.sources.register import sources

FOUND = list(checks_properties.checks())


def test_all_points_of_the_equations_of_state_are_there():
    """204 printed points and ten of the 21-component gas; eight gases for the methane number."""
    assert len([one for one in FOUND if one.source == "nist_aga8"]) == 214
    assert len([one for one in FOUND if one.source == "en_16726_public"]) == 16


@pytest.mark.parametrize("source", sorted({one.source for one in FOUND}))
def test_published_values_hold(source):
    assert source in sources()
    assert [
        f"{one.check}: {one.value} for {one.published}" for one in FOUND if one.source == source and not one.holds
    ] == []


def test_worksheets_are_the_formulas():
    """What the visit shows is what the library gives, for one gas and for draws, and again for the same gas."""
    import numpy as np

    from asfound.fuel import methane_number, real_gas
    from asfound.quantities.worksheets import find

    gas = (0.912, 0.046, 0.0155, 0.0022, 0.0031, 0.0007, 0.0005, 0.0005, 0.0105, 0.009, 0.0, 0.0, 0.0, 3e-6)
    names = ("methane", "ethane", "propane", "isobutane", "n_butane", "isopentane", "n_pentane", "n_hexane", "nitrogen",
             "carbon_dioxide", "oxygen", "hydrogen", "carbon_monoxide", "hydrogen_sulfide")  # fmt: skip
    parts = dict(zip(names, gas, strict=True))
    line = find("gas_in_the_line").formula
    z, density = line(*gas, 296.0, 3.66e5)
    x = real_gas.composition(parts) / sum(gas)
    assert float(z) == float(real_gas.compressibility(x, 296.0, 3.66e5))
    assert float(density) == float(real_gas.mass_density(x, 296.0, 3.66e5))
    drawn = line(np.array([0.912, 0.90]), *gas[1:], 296.0, np.array([3.66e5, 4e5]))
    assert drawn[0][0] == pytest.approx(float(z), rel=1e-12)
    parts["hexanes_plus"] = parts.pop("n_hexane")
    number = find("methane_number").formula
    expected = float(methane_number.methane_number(methane_number.composition(parts)))
    assert float(number(*gas)) == float(number(*gas)) == pytest.approx(expected, abs=1e-9)
    assert number(np.array([0.912, 0.8]), *gas[1:]).shape == (2,)
    assert np.isnan(line(*gas, 296.0, -1.0)[0])
