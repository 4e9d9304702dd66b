"""What `compare` says beyond agreement and habits: each module has words and JSON values."""
