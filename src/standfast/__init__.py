"""Standfast: assess, certify and keep current the people who teach movement."""

__version__ = "0.1.0"
