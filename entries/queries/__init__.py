"""What is read of entries, outfits, camp and money."""
