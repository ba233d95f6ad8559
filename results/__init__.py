"""What is kept of a run and how it is read: ledger, front, queries. Knows nothing of clusters or samplers."""
