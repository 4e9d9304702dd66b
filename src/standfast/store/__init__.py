"""The record book: an append-only journal, and tables derived from it.  The only SQL is here.

`connect.open_book` gives a `book.Book`, whose documentation lists what can be put in and found.
"""
