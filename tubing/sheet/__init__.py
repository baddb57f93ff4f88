"""What the job sheet says, decided once; ``drawing`` and ``writers`` only bring it to paper, screen and files.

Sheet:  what is printed for one plan, as records: tables, lines of words, steps.
Table:  rows under headings, each heading with its unit; numbers stay numbers until they are drawn.
Words:  a sentence for the fitter, its numbers already written out.
"""
