"""What would happen if: a model of the engine's closed cycle, fitted to the readings of a visit."""
