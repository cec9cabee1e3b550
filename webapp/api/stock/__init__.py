"""Stock by program: lots, boards, cutting plans, woods and adhesives.

One router for each noun; they use `frame` and the shop's rules, and know no page.
"""
