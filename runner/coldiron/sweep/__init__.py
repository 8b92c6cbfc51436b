"""From a study to findings: its cases, the worker that runs them, the pool and the store they go through."""
