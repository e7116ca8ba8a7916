"""The weekly picture and the report for the visit, drawn by typst from templates.

`weekly.weekly_png` and `report.report_pdf` are what others call; both are slow enough (tens
of milliseconds) to belong into a worker thread.
"""
