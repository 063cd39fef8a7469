"""The living page of how our pages look, made of the stylesheet and of the pages' own pieces."""
