"""Scoring a practical in the terminal: asks in lesson order, keeps each answer at once.

session.run      the one way in: asks until the sheet is signed, or left unfinished
drafts           unfinished sheets on disk: one line for each answer, and a lock
entries          what one line of a draft says
state            lines -> what is known; a pure function, used live and on resuming
lesson           what this rubric and syllabus ask, and when
questions        what is asked next, and what a typed line means there
lines            the short lines of the lesson: a try, let go, a look, an incident
words            what is shown
review           what is open, counts, contradictions, and the signature
sheet            what is known -> the score sheet
terminal         keyboard and screen
"""
