"""What the job sheet says, decided once; ``terminal`` and its like only draw it, ``contract`` gives it as data.

Sheet:  what is printed for one plan, as records: tables, lines of words, steps.
Table:  rows under headings, each heading with its unit; numbers stay numbers until they are drawn.
Words:  a sentence for the fitter, its numbers already written out.
"""
