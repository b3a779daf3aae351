"""The evening board: all sites and crews, who goes where in the next days, with odds and costs."""
