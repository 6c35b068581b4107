# ruff: noqa
# %% [markdown]
# # A visit as data
#
# A demo home is made in a folder of its own and thrown away at the end. Everything in it is invented. Install the
# package, and pandas if tables are wanted as DataFrames.

# %%
import tempfile
from pathlib import Path

from asfound.records.demo import make_demo_home
from asfound.records.frames import TABLES, columns, frame
from asfound.records.store import Records
from asfound.records.visit import view

folder = tempfile.TemporaryDirectory()
make_demo_home(Path(folder.name) / "home")
records = Records.open(Path(folder.name) / "home")
[one.name for one in records.visits()]

# %% [markdown]
# One visit with all that follows from it. What is believed to be fitted shows itself as tables; the words for the
# belief are the ones of the pages.

# %%
seen = view(records, "D1/2032-06-20")
seen.identification

# %% [markdown]
# One number with its interval, method, source, and what was assumed for it.

# %%
seen.worked.result("as_found/after_catalyst/nox_at_reference_oxygen")

# %% [markdown]
# All tables of a visit by columns. Values are in SI; `low_95` and `high_95` are the ends of the interval.

# %%
TABLES, list(columns(seen, "results"))

# %% [markdown]
# The same as a DataFrame: the numbers behind the catalyst, with their doubt as a share of the value.

# %%
results = frame(seen, "results")
behind = results[results["place"] == "after_catalyst"].copy()
behind["doubt"] = behind["standard_uncertainty"] / behind["value_si"].abs()
behind[["quantity", "worksheet", "value_si", "unit_si", "doubt"]].head(6)

# %% [markdown]
# What takes doubt from a number: the share of each reading in its variance, the largest first.

# %%
number = seen.worked.result("as_found/after_catalyst/nox_at_reference_oxygen")
[(key, round(share, 3)) for key, share in seen.worked.shares(number)][:4]

# %%
records.close()
folder.cleanup()
