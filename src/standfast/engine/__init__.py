"""Evidence and standard to finding, findings to decision; dates and standings.

Pure functions in pure Python: no files, no clock, no chance, and no arrays but in `planning`.  The
day is always an argument, and the same evidence gives the same answer on every machine.
"""
