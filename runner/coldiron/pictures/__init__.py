"""Pictures of results as SVG text: no pyplot, no global state, the same bytes for the same results."""
