"""Plant communities: a bed as layers of groups that live together, and which one each bed of a yard gets."""
