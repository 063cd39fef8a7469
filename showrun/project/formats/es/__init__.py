"""Spanish as it is written in Mexico and the United States."""
