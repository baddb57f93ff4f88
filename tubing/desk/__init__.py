"""The desk: a page on the workshop's own computer that shows a job, its plan, and what each change does.

Look:    one plan of a job's text, made for the page in a process of its own.
Version: a code of a file's text, by which it is seen whether somebody else has changed it.
Field:   one value of a job's file on the page, with the place where it stands.
"""
