"""The order of work, computed from what each operation needs and makes.

Operation: one thing done to one piece, box or part, such as sawing a blank or drilling for a box.
Fact:      what an operation needs before it starts, or makes when it is done, such as "near-far is bent".
Over length: a doubtful blank is sawn longer at the end that is flared last, and trimmed there in place.
"""
