"""What `compare` says, part by part: each module has words for the terminal and JSON values."""
