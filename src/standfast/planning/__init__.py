"""What is coming: how many practicals and refreshers, and who sees whom on a day.

Arrays and the nouns of `model`; NumPy and SciPy are loaded by the modules of this package only.
"""
