"""Terms: what a quote or a confirmation said, beside what its order says now.

Used by the rules of orders, pages and API. Issues no paper and changes no order.
"""
