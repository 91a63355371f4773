"""A designed bed for people: text for the terminal, two pages in PDF."""
