"""How severe each assessor is, freed of whom and what they happened to score.

The many-facet Rasch model: log(P[k] / P[k-1]) = person - severity - difficulty - threshold[k].
Severities, difficulties and thresholds each sum to 0; person measures are free.  Source: Linacre
(1989), Many-facet Rasch measurement; Masters (1982), Psychometrika 47, for a criterion's own
thresholds; Andrich (1978), Psychometrika 43, for common ones (all three from memory).

    scores.py       what is handed in, checked and arranged
    linked.py       can everybody be compared with everybody
    structure.py    the model as arrays
    marginal.py     persons as a normal crowd; the one to take
    conditional.py  persons as nothing at all: given their totals
    joint.py        persons as parameters; biased, for comparison with other people's figures
    persons.py      measures of persons, and how well the model fits whom
    answer.py       names, errors, fit and fair scores put together
    fitted.py       the answer
"""
