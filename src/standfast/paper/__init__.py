"""Nouns to pages: the only printing.

`view` says what a page says, all words and rounding done; `html` fills the templates; `pdf`
draws, and is the one module that loads WeasyPrint.
"""
