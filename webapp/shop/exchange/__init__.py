"""Exchange: tables imported with a preview, and everything taken out again.

Used by the import and export pages and the API. Calls each noun's own rules.
"""
