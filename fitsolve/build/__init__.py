"""What the maker wrote: the plan, the shop log, and what they leave true."""
