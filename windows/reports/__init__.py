"""Reports: finished results turned into text, tables and pages. Nothing is computed here."""
