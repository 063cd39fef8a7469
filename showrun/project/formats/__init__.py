"""How dates and numbers are written, where Django's own way is not the one of our readers."""
