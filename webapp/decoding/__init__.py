"""Files that strangers send, opened in processes of their own with limits on memory and time.

The server asks `workers`; what runs there, from `worker` down, imports nothing else of the program and no database.
"""
