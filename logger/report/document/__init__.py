"""The report of a visit as one HTML page, and as a PDF."""
