"""The demonstration: an invented show, loaded or driven through the service's own doors."""
