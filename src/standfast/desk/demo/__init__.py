"""The invented school: its people come from files, three years of lessons from a seed.

`lesson` invents what happens in one practical, `careers` how each candidate's story goes, and
`building` lives through all of them day by day with the same functions that people use.
"""
