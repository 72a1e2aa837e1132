"""Spreadsheets as they really are, read without a database: bytes to rows, headings to fields, cells to values."""
