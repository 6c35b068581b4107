"""`asfound quantities`, `units`, `sources`: what every number stands on."""

from __future__ import annotations

from asfound.cli import CANNOT
from asfound.quantities.register import quantities
from asfound.sources.register import sources


def test_all_quantities_and_one(asfound):
    assert {one["name"] for one in asfound("quantities", "--json").data} == set(quantities())
    one = asfound("quantities", "exhaust_oxygen_dry", "--json").data
    assert one["si_unit"] == "mol/mol"
    assert one["plausible_source"]
    assert "exhaust_oxygen_dry" in asfound("quantities", "exhaust_oxygen_dry").out


def test_units_that_fit(asfound):
    """One psi is 6894.757 Pa (NIST SP 811:2008, Appendix B.8)."""
    fitting = {one["symbol"]: one for one in asfound("units", "manifold_pressure", "--json").data}
    assert "psi" in fitting
    assert round(fitting["psi"]["factor"], 3) == 6894.757
    assert len(asfound("units", "--json").data) > 50


def test_sources(asfound):
    assert {one["key"] for one in asfound("sources", "--json").data} == set(sources())
    assert asfound("sources", "common_practice", "--json").data["kind"] == "practice"
    unknown = asfound("sources", "common_practise")
    assert unknown.code == CANNOT
    assert "common_practice" in unknown.err
