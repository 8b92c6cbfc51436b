"""Pictures of findings as SVG text: no pyplot, no global state, the same bytes for the same findings."""
