"""Background jobs: work that no page waits for, shared by all processes that serve one database.

The shop and the papers say what is to be done (`webapp/job_kinds.py` lists the kinds); pages and the API enqueue it.
What stands here knows no rule of the shop: jobs, their queue, claims, heartbeats, and the schedule of periodic work.
"""
