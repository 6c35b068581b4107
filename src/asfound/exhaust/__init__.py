"""Mixture from the exhaust, concentrations on the basis that a permit asks for, emission rates. Floor 2."""
