"""Tables of people: persons, sign-ins, API keys, events."""
