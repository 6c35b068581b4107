"""The air of a demo site: temperature of season, day and weather; barometer; humidity that falls as the day warms."""

from __future__ import annotations

import numpy as np

from asfound.history.channels import Times
from asfound.history.demo.calendar import DAY, HOUR
from asfound.history.demo.chance import stream, wander
from asfound.history.demo.fleet import Spec
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.typing import Array


def air(spec: Spec, seed: int, time: Times) -> tuple[Array, Array, Array]:
    """Return temperature [K], pressure [Pa], relative humidity [1]; engines of a site share it. (n,) each"""
    site = spec.site
    random = stream(seed, spec.site_name, "air")
    n = len(time)
    day = time / DAY
    hour = (time / HOUR + site.offset_hours) % 24
    weather = wander(random, n, 4 * 144, site.weather)
    daily = site.day * np.sin(2 * np.pi * (hour - 9) / 24) * (1 + 0.25 * np.cos(2 * np.pi * (day - 200) / 365.25))
    celsius = site.mean - site.year * np.cos(2 * np.pi * (day - 17) / 365.25) + daily + weather
    barometer = ATMOSPHERE * (1 - 2.25577e-5 * site.height) ** 5.25588 + wander(random, n, 3 * 144, 700.0)
    humid = np.clip(site.humidity - 0.022 * daily + wander(random, n, 2 * 144, 0.10), 0.08, 1.0)
    return celsius + 273.15, barometer, humid
