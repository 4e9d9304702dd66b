"""The command line: one of the two faces.  Holds no rules; reads options, calls the desk, shows."""
