"""What people do with spreadsheets that came in."""
