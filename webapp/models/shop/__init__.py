"""Tables of the shop itself: settings, calendar, routings, drafts, print runs, counters."""
