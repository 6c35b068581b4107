"""Balances over all readings of a visit: which readings agree, which stand apart, what nobody can tell. Floor 3."""
