"""Files of every format, opened and handed on as columns and shapes."""
