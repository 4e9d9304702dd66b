"""Ratings to figures about the people who gave them: agreement, severity, drift.

Arrays in, figures out, each with how sure it is.  NumPy and SciPy are loaded only here and in the
planning of the engine.
"""
