"""Tables: tidy rows, one row a variant, and what a terminal shows."""
