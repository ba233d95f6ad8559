"""The search: the design space, the sampler, the archive. Knows nothing of clusters or files."""
