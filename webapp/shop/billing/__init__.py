"""Billing: invoices, credit notes and receipts with numbers without gaps, and the books made of them.

Used by order pages, papers and the API. Changes no order and no payment.
"""
