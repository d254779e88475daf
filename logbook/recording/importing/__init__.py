"""Taking over a paper log or a spreadsheet: rows of a table in, entries out, all or none.

``files`` finds how a file is written and which of its columns is which, ``cells`` reads one row,
``sheets`` says what the rows of each kind of file mean, ``taking_over`` records them.
"""
