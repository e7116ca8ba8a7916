"""Readings that come in from, and go out to, other programs: CSV and FHIR R4.

`incoming.py` tells the two apart, `csv_readings.py` and `fhir.py` read and write one each,
`rows.py` has what they share. Nothing here knows the database.
"""
