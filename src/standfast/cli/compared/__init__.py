"""What `compare` shows beyond agreement and habits, a module for each question."""
