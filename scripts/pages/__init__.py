"""The checks that keep the pages for people true; scripts/docs says what a page may hold and runs them."""
