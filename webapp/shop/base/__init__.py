"""What every rule of the shop stands on: its errors, rows found by number, marks.

Used by all packages of the shop. Knows no noun of the trade.
"""
