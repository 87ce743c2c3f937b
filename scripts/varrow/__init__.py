"""The invented island of Varrow: plan, relief, roads and the files made from them."""
