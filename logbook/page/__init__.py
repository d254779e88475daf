"""The page at the machine: routes, templates, one style sheet, one short script, and signing.

It judges nothing: it reads what was handed in, asks the office or an answer, and shows a sheet.
"""
