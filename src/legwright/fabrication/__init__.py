"""How it is made: round dimensions, plates, shells, bill of materials."""
