"""From a study to results: its cases, the worker that runs them, the pool and the store they go through."""
