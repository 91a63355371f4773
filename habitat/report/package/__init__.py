"""The GIS package, rasters and what a run was made from."""
