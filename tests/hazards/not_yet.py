"""Rows that the program does not tell right yet. Whoever mends one takes it out of this list.

The tests of these rows must fail (`xfail`, strict): a row that is mended and still listed fails.
"""

NOT_YET: set[str] = set()
