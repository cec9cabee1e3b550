"""Tables of patterns and blanks: revisions, steps, readings, cuts, defects, photos, learning."""
