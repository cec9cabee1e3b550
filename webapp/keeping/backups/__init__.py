"""Backups: made, proven, rotated, checked against the schema, restored.

Used by the command line, the schedule and the owner's page. Trusts nothing that a backup says of itself.
"""
