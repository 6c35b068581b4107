"""Cylinder by cylinder: numbering, firing order, sensors, spread, what is behind an odd one. Floor 2."""
