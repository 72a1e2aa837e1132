"""Rows of a spreadsheet against the books: what each would do, and doing it."""
