"""Text on disk to nouns, keeping the line and column of every value.

This package knows files and shapes; what a rubric means is judged in `standfast.engine`.
"""
