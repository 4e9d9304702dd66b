"""What each page says, all words and rounding done."""
