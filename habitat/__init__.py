"""Plans butterfly host plants, nectar and corridors over a neighbourhood of real yards."""
