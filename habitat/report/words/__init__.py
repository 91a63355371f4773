"""Words: numbers, months, names, and what stages found put into sentences."""
