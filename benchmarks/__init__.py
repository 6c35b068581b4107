"""Measurements with their ratios; `make bench` runs them all. See README.md beside this file."""
