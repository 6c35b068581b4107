"""The whole service visit to a large stationary gas engine: as found, as left."""

__version__ = "0.1.0"
