"""What kind of browser someone sits at, in a few words, so that they know their own in a list."""

import re

# Looked for in this order: most browsers also name those they come from.
_BROWSERS = [
    ("Firefox", r"Firefox/|FxiOS/"),
    ("Edge", r"Edg(?:e|A|iOS)?/"),
    ("Opera", r"OPR/"),
    ("Samsung Internet", r"SamsungBrowser/"),
    ("Chrome", r"Chrome/|CriOS/|Chromium/"),
    ("Safari", r"Safari/"),
]
_SYSTEMS = [
    ("iPad", r"iPad"),
    ("iPhone", r"iPhone"),
    ("Android", r"Android"),
    ("Chromebook", r"CrOS"),
    ("Windows", r"Windows"),
    ("Mac", r"Macintosh"),
    ("Linux", r"Linux|X11"),
]


def device(user_agent: str) -> str:
    """Such as "Firefox on Android"; "a browser" where nothing is known."""
    agent = user_agent[:400]
    browser = next((name for name, sign in _BROWSERS if re.search(sign, agent)), "a browser")
    system = next((name for name, sign in _SYSTEMS if re.search(sign, agent)), "")
    return f"{browser} on {system}" if system else browser
