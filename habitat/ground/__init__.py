"""Ground: what each place offers, and where it is open to plants of each growth form."""
