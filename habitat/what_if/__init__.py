"""What people try on results before they save it: the same engine, everything kept in memory."""
