"""Heating value, Wobbe index and density of a gas from its composition, by ISO 6976:2016.

Everything works on one gas and on any number of them: the last axis of ``x`` runs over components, the axes before it
over gases, hours of a log, or draws.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from typing import cast

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.fuel.components import ELEMENTS, places, table
from asfound.quantities.typing import Array, Values

GAS_CONSTANT = 8.3144621  # J/(mol K), of the edition (CODATA 2010)
U_GAS_CONSTANT = 7.5e-6
REFERENCE_PRESSURE = 101_325.0  # Pa
MOLAR_MASS_AIR, U_MOLAR_MASS_AIR = 28.96546e-3, 0.00017e-3  # kg/mol
Z_AIR = (0.999419, 0.999595, 0.999601, 0.999645)  # dry air at 101.325 kPa, in the order of METERING_COLUMNS
U_Z_AIR = 1.5e-5
WATER_HEAT = (45_064.0, 44_431.0, 44_408.0, 44_222.0, 44_013.0)  # J/mol, vaporisation, order of COMBUSTION_COLUMNS
U_WATER_HEAT = 4.0
SIXTY_FAHRENHEIT = (459.67 + 60.0) / 1.8  # K
COMBUSTION_TEMPERATURES = (273.15, 288.15, SIXTY_FAHRENHEIT, 293.15, 298.15)  # K, order of COMBUSTION_COLUMNS
METERING_TEMPERATURES = COMBUSTION_TEMPERATURES[:4]
PRESSURE_RANGE = (90_000.0, 110_000.0)  # Pa, of the formula for Z
LOWEST_Z = 0.9
SUM_TOLERANCE = 1e-4  # a composition that is further from 1 than this has no answer


def _column(temperature: float, known: Sequence[float], field: str) -> int:
    """Return the column of a reference temperature; 15.55 °C stands for 60 °F."""
    for at, one in enumerate(known):
        if abs(temperature - one) < 0.01:
            return at
    raise InputError(
        field,
        f"{temperature - 273.15:g} °C",
        "is no temperature of the standard's tables",
        allowed=", ".join("60 °F" if abs(t - SIXTY_FAHRENHEIT) < 0.01 else f"{t - 273.15:.0f} °C" for t in known),
    )


@dataclass(frozen=True, slots=True)
class Reference:
    """What a heating value refers to: two temperatures and a pressure. A value without them is no quantity.

    Parameters
    ----------
    combustion : float
        Temperature at which the gas burns: 0, 15, 20, 25 °C or 60 °F. [K]
    metering : float
        Temperature at which its volume counts: 0, 15, 20 °C or 60 °F. [K]
    pressure : float
        At which its volume counts: 90 to 110 kPa. [Pa]

    Raises
    ------
    InputError
        The standard has no data for it.
    """

    combustion: float = 288.15
    metering: float = 288.15
    pressure: float = REFERENCE_PRESSURE

    def __post_init__(self) -> None:
        _column(self.combustion, COMBUSTION_TEMPERATURES, "combustion reference temperature")
        _column(self.metering, METERING_TEMPERATURES, "metering reference temperature")
        low, high = PRESSURE_RANGE
        if not low <= self.pressure <= high:
            raise InputError(
                "reference pressure",
                f"{self.pressure:g} Pa",
                "is outside the range of the formula",
                allowed="90 to 110 kPa absolute (13.05 to 15.95 psia)",
                try_next="For gas at line pressure use the real-gas equations.",
            )

    @classmethod
    def named(cls, text: str, pressure: float = REFERENCE_PRESSURE) -> Reference:
        """Return the reference that a text such as ``25/0``, ``15/15`` or ``60F/60F`` names, combustion first.

        >>> Reference.named("25/0").combustion
        298.15
        """
        parts = [part.strip().replace("°", "").replace(" ", "").upper().removesuffix("C") for part in text.split("/")]
        known = dict(zip(("0", "15", "60F", "20", "25"), COMBUSTION_TEMPERATURES, strict=True))
        known |= {"15.55": SIXTY_FAHRENHEIT, "15.56": SIXTY_FAHRENHEIT}
        if len(parts) != 2 or not all(part in known for part in parts):
            raise InputError(
                "reference",
                text,
                "is no pair of reference temperatures",
                allowed="combustion/metering in °C, 25/0, 15/15, or 60F/60F",
            )
        return cls(known[parts[0]], known[parts[1]], pressure)

    @property
    def columns(self) -> tuple[int, int]:
        """Places of its temperatures in COMBUSTION_COLUMNS and METERING_COLUMNS."""
        return (
            _column(self.combustion, COMBUSTION_TEMPERATURES, "combustion reference temperature"),
            _column(self.metering, METERING_TEMPERATURES, "metering reference temperature"),
        )

    @property
    def title(self) -> str:
        """As it is printed beside a value."""
        burn, meter = (
            "60 °F" if abs(t - SIXTY_FAHRENHEIT) < 0.01 else f"{t - 273.15:.0f} °C"
            for t in (self.combustion, self.metering)
        )
        return f"burned at {burn}, volume at {meter} and {self.pressure / 1000:.6g} kPa"


DEFAULT_REFERENCE = Reference()


@dataclass(frozen=True, slots=True, kw_only=True)
class Properties:
    """What the standard gives for a gas: floats for one, arrays for many. Volumes are those of the reference."""

    molar_mass: Values
    """[kg/mol]"""
    compression_factor: Values
    """Z of the volume; 1 for the ideal gas. [1]"""
    molar_gross: Values
    """[J/mol]"""
    molar_net: Values
    """[J/mol]"""
    mass_gross: Values
    """[J/kg]"""
    mass_net: Values
    """[J/kg]"""
    volume_gross: Values
    """[J/m³]"""
    volume_net: Values
    """[J/m³]"""
    density: Values
    """[kg/m³]"""
    relative_density: Values
    """Against dry air at the same state. [1]"""
    wobbe_gross: Values
    """[J/m³]"""
    wobbe_net: Values
    """[J/m³]"""


_NAMES = tuple(one.name for one in fields(Properties))


def basis(components: Sequence[str] | None, reference: Reference) -> Array:
    """Return the columns of which every property is made: (m, 5) sums to take over the mole fractions.

    Molar mass [kg/mol], summation factor [1], gross molar heat [J/mol], heat of the water that burning makes [J/mol],
    and ones.
    """
    at, data = places(components), table()
    burn, meter = reference.columns
    water = data.atoms[at, ELEMENTS.index("H")] / 2 * WATER_HEAT[burn]
    return np.column_stack(
        (data.molar_mass[at], data.summation[at, meter], data.gross[at, burn], water, np.ones(len(at)))
    )


BLOCK = 40_000
"""Fractions worked on at once: what lies between stays in the processor's cache, and no temporary array is large.

Small enough, too, that the library under NumPy does not wake a second thread for a product of two such small matrices.
"""


def blocks(rows: int, m: int) -> Iterator[slice]:
    """Yield slices over gases of m components, a block of work each."""
    step = max(64, BLOCK // max(m, 1))
    yield from (slice(start, start + step) for start in range(0, rows, step))


def from_columns(
    x: Array,
    columns: Array,
    reference: Reference,
    *,
    ideal: bool = False,
    any_sum: bool = False,
    r: float = GAS_CONSTANT,
    molar_mass_air: float = MOLAR_MASS_AIR,
    z_air: float,
) -> Properties:
    """Return the properties of gases (..., m) from the columns of `basis`, block by block.

    Raises
    ------
    ValueError
        ``x`` has another number of components than ``columns``.
    """
    if x.ndim == 0 or x.shape[-1] != len(columns):
        raise ValueError(f"the last axis of x has {x.shape[-1] if x.ndim else 0} fractions, for {len(columns)} names")
    rows = x.reshape(-1, len(columns))
    out = np.empty((len(_NAMES), len(rows)))
    turned = np.ascontiguousarray(columns.T)
    ratio = reference.pressure / REFERENCE_PRESSURE
    air = (1.0 if ideal else 1 - ratio * (1 - z_air)) / molar_mass_air
    molar_volume = r * reference.metering / reference.pressure
    with np.errstate(all="ignore"):
        for part in blocks(*rows.shape):
            block = rows[part]
            sums = turned @ block.T
            real = np.ones(len(block)) if ideal else 1 - ratio * (sums[1] * sums[1])
            total = sums[4]
            plain = (block.min() >= 0) & (real.min() > LOWEST_Z) & (total.min() >= 1 - SUM_TOLERANCE)
            if not (plain & (total.max() <= 1 + SUM_TOLERANCE)):  # nan is never plain either
                good = (block >= 0).all(axis=1) & (real > LOWEST_Z) & ((np.abs(total - 1) <= SUM_TOLERANCE) | any_sum)
                real = np.where(good, real, np.nan)
                sums = np.where(good, sums, np.nan)
            _fill(out[:, part], sums, real, air * molar_volume, molar_volume)
    if x.ndim == 1:
        return Properties(**dict(zip(_NAMES, out[:, 0].tolist(), strict=True)))
    return Properties(**{name: out[at].reshape(x.shape[:-1]) for at, name in enumerate(_NAMES)})


def _fill(out: Array, sums: Array, z: Array, air: float, molar_volume: float) -> None:
    """Write the twelve properties of a block into its place, in the order of `Properties`."""
    mass, gross, water = sums[0], sums[2], sums[3]
    per_mass = 1 / mass
    per_volume = 1 / (molar_volume * z)
    out[0], out[1], out[2] = mass, z, gross
    net = np.subtract(gross, water, out=out[3])
    np.multiply(gross, per_mass, out=out[4])
    np.multiply(net, per_mass, out=out[5])
    gross_volume = np.multiply(gross, per_volume, out=out[6])
    net_volume = np.multiply(net, per_volume, out=out[7])
    density = np.multiply(mass, per_volume, out=out[8])
    relative = np.multiply(density, air, out=out[9])
    per_root = 1 / np.sqrt(relative)
    np.multiply(gross_volume, per_root, out=out[10])
    np.multiply(net_volume, per_root, out=out[11])


def properties(
    x: npt.ArrayLike,
    components: Sequence[str] | None = None,
    reference: Reference = DEFAULT_REFERENCE,
    *,
    ideal: bool = False,
    any_sum: bool = False,
) -> Properties:
    """Return the properties of gases of known composition.

    The answer is nan where the fractions do not add up to 1 within 0.0001 (normalise first, and say so), where one
    is negative or not finite, and where Z is not above 0.9.

    Parameters
    ----------
    x : array, (..., m)
        Mole fractions. [mol/mol]
    components : sequence of str, optional
        Names along the last axis; the whole table of the standard, in its order, when left out.
    reference : Reference
        Temperatures of combustion and metering, and pressure.
    ideal : bool
        The gas, and air, counted as ideal.
    any_sum : bool
        Take the fractions as they are, whatever they add up to: for draws of an analysis, whose errors do not cancel.

    Returns
    -------
    Properties
        Floats for one gas, arrays of shape (...) for many.

    Raises
    ------
    UnknownNameError
        A component that the standard does not have.
    ValueError
        The last axis is not as long as ``components``.

    References
    ----------
    .. [1] ISO 6976:2016: M = sum x M_j; Z = 1 - (p/p0) (sum x s_j)^2; gross molar heat sum x H_j, net less the heat
       of vaporisation of the water made; by volume times p/(Z R T); relative density (M/M_air)(Z_air/Z); Wobbe index
       over its root.

    Examples
    --------
    >>> one = properties([0.9, 0.1], ["methane", "ethane"], Reference.named("25/0"))
    >>> print(f"{one.volume_gross / 1e6:.3f} MJ/m3, {one.relative_density:.4f}")
    42.848 MJ/m3, 0.6037
    """
    return from_columns(
        np.asarray(x, dtype=float), basis(components, reference), reference,
        ideal=ideal, any_sum=any_sum, z_air=Z_AIR[reference.columns[1]],
    )  # fmt: skip


def as_array(one: Properties) -> Array:
    """Return all properties along a last axis, in the order of `Properties`."""
    return cast(Array, np.stack([np.asarray(getattr(one, name)) for name in _NAMES], axis=-1))
