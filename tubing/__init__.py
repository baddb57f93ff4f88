"""Plans the guide tubes of a rack-drive wiper: from measured positions to a costed cut list."""
