"""What a machine that watches may ask: figures of the web server and of the shows that run."""
