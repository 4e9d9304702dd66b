"""One module for each part of the house; each has a `router`."""
