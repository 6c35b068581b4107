"""Balances over all readings of a visit: which readings agree, which stand apart, what cannot be told apart. Floor 3."""
