"""Tables and points joined to yards, and layers held against each other."""
