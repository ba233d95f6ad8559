"""Fitting of coefficients to logs of a bench: reading, replaying, least squares, what they can tell."""
