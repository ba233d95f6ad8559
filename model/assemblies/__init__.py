"""Components that architectures are put together from: each adds its nodes, links, laws, parts and loops."""
