"""When each join may be welded: the heat behind the planner, by exact modes or summed kernels."""
