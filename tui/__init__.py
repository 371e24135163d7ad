"""The store in, a screen out: shows and asks, decides nothing and opens no port."""
