"""Where beds could be."""
