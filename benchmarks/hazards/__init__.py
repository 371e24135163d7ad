"""The judge of what the program says when something goes wrong at the bench.

It is built apart from the program. Its bench (`cell.py`, `supply.py`, `meter.py`) has other physics
than the estimators and than `simulators/cell.py`; its rows (`rows.py` and the files beside it) say
for each deviation what must be said, how soon, and what must not. `names.py` has the names of the
alarms and prompts, in one table each.
"""
