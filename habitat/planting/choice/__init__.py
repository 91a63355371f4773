"""Which plants, how many: the program of one yard, its search and its bound."""
