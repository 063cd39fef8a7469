"""Keep the whole service in one file, and bring it back."""
