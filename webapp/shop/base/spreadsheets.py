"""Cells for spreadsheets, which take some texts for formulas and would carry out what a customer typed as a name."""

# OWASP, CSV Injection: the signs, those of full width that some programs take for them, and what begins a new line.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def harmless(text: str) -> str:
    """A text that no spreadsheet takes for a formula: an apostrophe before what looks like one."""
    return f"'{text}" if text.lstrip(" ").startswith(FORMULA) else text


def as_typed(text: str) -> str:
    """The text of a cell that was made harmless, here or elsewhere."""
    return text[1:] if text.startswith("'") and text[1:].lstrip(" ").startswith(FORMULA) else text
