"""The nouns: what a school writes down, sees, decides and grants.

Frozen pydantic models.  No files, no clock, no SQL: every other package may import this one,
and it imports only `standfast.problems`.
"""
