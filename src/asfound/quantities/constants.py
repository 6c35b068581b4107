"""Constants that rooms share. A standard that counts with a value of its own keeps that in its own file.

CODATA 2018 (exact in the SI of 2019); standard atmosphere: CGPM 1954, resolution 4; 0 °C: CGPM 1954, resolution 3.
"""

from __future__ import annotations

GAS_CONSTANT = 8.31446261815324
"""Molar gas constant. [J/(mol K)]"""
NORMAL_TEMPERATURE = 273.15
"""0 °C, at which a normal cubic metre is counted. [K]"""
ATMOSPHERE = 101_325.0
"""Standard atmosphere; the barometer where nothing else is known of it. [Pa]"""
