"""Readings, units, uncertainty and the sheet that turns readings into results. Floor 0: knows nothing above it."""
