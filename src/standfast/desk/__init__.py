"""One function for each thing a person does, joining what the inner packages give.

Both faces call these, so that the command and the page cannot drift apart.  The desk holds no
rules of its own: what counts stands in `standfast.engine`, what is kept in `standfast.store`.
"""
