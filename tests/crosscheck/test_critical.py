"""Chi-squared by its finite sums: against the tables, the library, and itself backwards."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from asfound.crosscheck.critical import chi_squared_critical, chi_squared_p

TABLE = {  # NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4, upper tail
    (1, 0.05): 3.841, (2, 0.05): 5.991, (5, 0.10): 9.236, (10, 0.05): 18.307, (10, 0.01): 23.209,
    (15, 0.025): 27.488, (30, 0.05): 43.773, (40, 0.001): 73.402, (100, 0.05): 124.342,
}  # fmt: skip


@pytest.mark.parametrize(("degrees", "alpha"), TABLE)
def test_critical_values_of_the_tables(degrees, alpha):
    assert chi_squared_critical(alpha, degrees) == pytest.approx(TABLE[degrees, alpha], abs=5.1e-4)
    assert chi_squared_p(TABLE[degrees, alpha], degrees) == pytest.approx(alpha, rel=1e-3)


@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 7, 20, 41, 118])
def test_as_the_library_has_it(degrees):
    from scipy.special import chdtrc, chdtri

    values = np.linspace(0.0, 600.0, 401)
    assert chi_squared_p(values, degrees) == pytest.approx(chdtrc(degrees, values), rel=1e-11, abs=1e-250)
    for alpha in (0.9, 0.05, 1e-9):
        assert chi_squared_critical(alpha, degrees) == pytest.approx(float(chdtri(degrees, alpha)), rel=1e-10)


def test_at_the_ends():
    assert chi_squared_p(5.0, 0) == 1.0
    assert chi_squared_critical(0.05, 0) == 0.0
    far = chi_squared_p(np.array([-1e-13, 0.0, 1e9, np.inf, np.nan]), 7)
    assert far[:4].tolist() == [1.0, 1.0, 0.0, 0.0]
    assert np.isnan(far[4])


def test_a_cross_check_does_not_wait_for_the_library():
    """A command that looks at one visit would wait for it a sixth of a second."""
    words = "from asfound.crosscheck.critical import *; import sys; chi_squared_p(3.0, 2); chi_squared_critical(0.1, 3)"
    subprocess.run([sys.executable, "-c", f"{words}; sys.exit('scipy' in sys.modules)"], check=True)
