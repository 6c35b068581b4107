"""A text as it is said: units and signs as words, so that it can be read aloud or heard over a telephone."""

from __future__ import annotations

import re

_UNITS = {
    "g/hp-h": "grams per horsepower hour", "g/kWh": "grams per kilowatt hour", "mg/m3(n)": "milligrams per cubic metre",
    "mg/m³(n)": "milligrams per cubic metre",
    "mg/m³": "milligrams per cubic metre", "kPa abs": "kilopascals absolute", "bar abs": "bars absolute",
    "bar g": "bars gauge", "kPa g": "kilopascals gauge", "psig": "p s i gauge",
    "mg/m3": "milligrams per cubic metre", "vol-%": "per cent by volume", "mol-%": "mole per cent",
    "mol %": "mole per cent", "°F": "degrees Fahrenheit", "°C": "degrees Celsius", "deg": "degrees", "psi": "p s i",
    "psia": "p s i absolute", "inHg": "inches of mercury", "inH2O": "inches of water", "hp": "horsepower",
    "kW": "kilowatts", "MW": "megawatts", "kPa": "kilopascals", "mbar": "millibars", "bar": "bars",
    "rpm": "turns a minute", "1/min": "turns a minute", "ppm": "parts per million", "ft": "feet",
    "mg KOH/g": "milligrams per gram",
    "min": "minutes", "h": "hours", "K": "kelvins", "%": "per cent", "MJ/m3(n)": "megajoules per cubic metre",
    "mm": "millimetres", "V": "volts", "kV": "kilovolts", "lb/h": "pounds an hour", "kg/h": "kilograms an hour",
}  # fmt: skip
_UNIT = re.compile(
    r"(?<=\d)\s?(" + "|".join(sorted((re.escape(one) for one in _UNITS), key=len, reverse=True)) + r")(?![\w/%])"
)
_SIGNS = (
    ("−", "minus "), ("–", " to "), ("±", "plus or minus "), ("°", " degrees "), ("…", "."), ("%", " per cent"),
    ("/", " slash "), (" x ", " times "), ("&", " and "), ("_", " "), ("#", " number "), ("<", " below "),
    (">", " above "), ("=", " is "), ("*", " "), ("(", ", "), (")", ", "),
)  # fmt: skip


def spoken(text: str) -> str:
    """Return one sentence or more as they are said.

    >>> spoken("NOx left at 0.55 g/hp-h (0.51 to 0.60)")
    'NOx left at 0.55 grams per horsepower hour, 0.51 to 0.60.'
    """
    said = _UNIT.sub(lambda met: f" {_UNITS[met[1]]}", text)
    for sign, word in _SIGNS:
        said = said.replace(sign, word)
    said = re.sub(r"\s+", " ", said)
    said = re.sub(r"\s+([,.;:])", r"\1", said)
    said = re.sub(r",\s*([,.;:])", r"\1", said)
    said = said.strip().strip(",").strip()
    return said if not said or said[-1] in ".?!:" else f"{said}."
