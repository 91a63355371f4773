"""How plants grow, and what is planted when."""
