"""What people do with kits and calls: one function for each thing that happens in the shop."""
