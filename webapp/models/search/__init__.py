"""Tables of search: the words of each row, and what is searched."""
