"""What is coming: how many practicals and refreshers, and who sees whom on a day.

Arrays and the nouns of `model`; of the engine only these modules load NumPy and SciPy, inside the
functions that need them, and chance comes in as a seeded generator.
"""
