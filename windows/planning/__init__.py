"""Plans: which layer goes on which section in which hours, by solver and by the rules of crews."""
