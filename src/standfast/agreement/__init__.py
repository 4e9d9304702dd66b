"""Ratings to figures about the people who gave them: agreement, severity, drift.

Arrays in, figures out, each with how sure it is.  Only here, and in the engine's planning, are NumPy
and SciPy loaded.
"""
