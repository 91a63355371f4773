"""Rasters: opened, checked, read window by window, summed up by yard."""
