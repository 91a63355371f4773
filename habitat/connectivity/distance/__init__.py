"""How far apart patches are: straight or by ground, and what a butterfly makes of it."""
