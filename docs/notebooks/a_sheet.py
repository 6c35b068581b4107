# ruff: noqa
# %% [markdown]
# # A sheet without a record
#
# Readings in, results with their doubt out. No home, no pages: the library alone.

# %%
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Limit, Reading


def read(quantity, value, unit, doubt, as_typed):
    """Return a reading at the stack, as found."""
    return Reading(
        quantity=quantity,
        place="stack",
        state="as_found",
        time="2032-07-08T10:00:00Z",
        value=value,
        unit=unit,
        as_typed=as_typed,
        standard_uncertainty=doubt,
    )


readings = [
    read("exhaust_nox_dry", 120e-6, "mol/mol", 3e-6, "120 ppm"),
    read("exhaust_oxygen_dry", 0.085, "mol/mol", 0.001, "8.5 %"),
    read("permit_reference_oxygen", 0.15, "mol/mol", 0.0, "15 %"),
]
worked = work_out(readings)
worked

# %% [markdown]
# 40 CFR 60.4213(d)(2), Equation 3: 120 ppm at 8.5 % oxygen are 120 x 5.9 / 12.4 = 57.1 ppm at 15 %.

# %%
number = worked.result("as_found/stack/nox_at_reference_oxygen")
number

# %% [markdown]
# How probable it is that the number is over a limit of 60 ppm, counted over the draws of the sheet.

# %%
limit = Limit(quantity="nox_at_reference_oxygen", value=60e-6, as_typed="60 ppm")
round(worked.probability_beyond(number, limit), 3)

# %% [markdown]
# The draws themselves are an array, so any question can be asked of them. Another oxygen reading, say 9 %, in one call
# with a hundred values:

# %%
import numpy as np

oxygen = np.linspace(0.05, 0.15, 100)
at_15 = 120e-6 * (0.209 - 0.15) / (0.209 - oxygen)
worked.draws(number).shape, float(at_15.max() * 1e6).__round__(1)
