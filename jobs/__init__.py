"""Jobs: the sweep file, the cluster, the driver, the command line."""
